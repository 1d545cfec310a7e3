"""What is asked of the facet itself: which it is, how it was set and measured, how a table is held."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from lapwise.engine.case import FacetSetting
from lapwise.engine.contact.frame import frame_of
from lapwise.tui.present.case import told_name
from lapwise.tui.screens.ask import Blank
from lapwise.tui.screens.asking import choose, choose_or_leave_open, fill_in
from lapwise.tui.screens.case_questions import Questions
from lapwise.tui.screens.correction_view import HELD
from lapwise.tui.screens.entry import Entry
from lapwise.tui.typed import read_facet


class FacetQuestions(Questions):
    """Those of the correction, beside those of the case."""

    def facet(self) -> None:
        """List what is stated of the facet and change the line chosen."""
        case = self._case
        entries = [
            Entry("numbers", "Angle, index, gear, size", "numbers to type"),
            Entry("part", "Which facet", case.facet.part or "not stated"),
            Entry("adapter", "How the table is held", HELD[case.facet.adapter], words="holding of a table"),
            Entry("prior", told_name("prior"), self._label(case.prior), words="step before"),
        ]
        choose(self._app, "The facet and its setting", entries, self.of_facet)

    def of_facet(self, field: str) -> None:
        """Let the person state one thing of the facet."""
        if field == "part":
            self.value("facet_part", partial(self._put, "facet_part"))
        elif field == "adapter":
            entries = [Entry("45", "In a 45-degree adapter"), Entry("none", "Straight in the handpiece")]
            choose_or_leave_open(self._app, "How is the table held?", entries, lambda how: self._state(adapter=how))
        elif field == "prior":
            self.of_machine("prior")
        else:
            self.numbers()

    def _state(self, **of_the_facet: Any) -> None:
        self._take(replace(self._case, facet=replace(self._case.facet, **of_the_facet)))

    def numbers(self, then: Callable[[], None] | None = None, about: str = "") -> None:
        """Angle, index, gear and size; ``then`` follows once angle and index are stated."""
        facet, profile = self._case.facet, self._at().workspace.profile
        size = "x".join(f"{mm:g}" for mm in facet.size_mm) if facet.size_mm else ""
        gear = facet.gear or (profile.gear if profile else None)
        frame = frame_of(facet)
        blanks = [
            Blank.number("angle", "Angle", facet.angle, "0 upright to 90 level"),
            Blank.number("index", "Index", facet.index, "the tooth it was cut at"),
            Blank.number("gear", "Gear", gear, "teeth, for example 96"),
            Blank("size", "Size in mm", size, f"side to side x {frame.tip} to {frame.dop}, 9x6"),
        ]

        def read(values: Mapping[str, str]) -> FacetSetting:
            angle, index, gear, size = (values[k] or None for k in ("angle", "index", "gear", "size"))
            return read_facet(angle=angle, index=index, gear=gear, size=size)

        def taken(new: FacetSetting) -> None:
            self._at().told_of_machine(gear=new.gear)
            self._state(angle=new.angle, index=new.index, gear=new.gear, size_mm=new.size_mm)
            if then is not None and new.angle is not None and new.index is not None:
                then()

        fill_in(self._app, "The facet's setting", blanks, read, taken, about=about)
