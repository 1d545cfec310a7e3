"""The ids of the trade that cases, records and other benches rely on: none may be renamed or left out.

More may be added to the knowledge files without being named here. A record that was exported years ago, or on another
bench, is read with these ids.
"""

from __future__ import annotations


def _ids(words: str) -> tuple[str, ...]:
    return tuple(words.split())


TRADE_IDS: dict[str, tuple[str, ...]] = {
    "materials": _ids(
        """
        quartz-rock-crystal amethyst citrine smoky-quartz rose-quartz ametrine aquamarine morganite heliodor
        goshenite emerald sapphire ruby synthetic-corundum topaz tourmaline-elbaite tourmaline-schorl
        tourmaline-dravite garnet-almandine garnet-pyrope garnet-rhodolite garnet-spessartine garnet-grossular
        garnet-tsavorite garnet-demantoid garnet-colour-change spinel synthetic-spinel peridot zircon-high
        zircon-low chrysoberyl labradorite sunstone orthoclase oligoclase moonstone sanidine fluorite apatite opal
        tanzanite iolite kunzite hiddenite danburite diopside scapolite sphene sphalerite calcite cubic-zirconia yag
        ggg synthetic-rutile strontium-titanate moissanite glass-soda-lime obsidian moldavite amblygonite benitoite
        andalusite kyanite rhodochrosite sinhalite taaffeite epidote idocrase phenakite scheelite cuprite cerussite
        dioptase barite diamond
        """
    ),
    "laps": _ids(
        """
        plated-diamond-lap sintered-diamond-lap resin-diamond-lap copper-lap zinc-lap tin-lap tin-alloy-lap
        tin-lead-lap cast-iron-lap ceramic-lap composite-lap oxide-composite-lap acrylic-lap phenolic-lap
        polishing-film wax-lap wood-lap pitch-lap cloth-or-leather-lap
        """
    ),
    "compounds": _ids(
        """
        cerium-oxide zirconium-oxide aluminium-oxide-coarse aluminium-oxide aluminium-oxide-fine chromium-oxide
        tin-oxide titanium-oxide colloidal-silica mixed-oxide silicon-carbide diamond-unknown diamond-100 diamond-180
        diamond-260 diamond-325
        diamond-360 diamond-600 diamond-1200 diamond-3000 diamond-8000 diamond-14000 diamond-50000 diamond-60000
        diamond-100000 diamond-200000 none
        """
    ),
    "symptoms": _ids(
        """
        fine-scratches coarse-scratches scratches-with-travel scratches-cutting-direction scratches-return
        partial-polish stays-dull slow-polish uneven-results torn-facet curved-facet undercutting hot-stone haze
        orange-peel pits comet-tails rounded-edges soft-meets chipped-edges flaking cracks one-direction-only drags
        skates surface-film two-planes facet-moved burnt-compound
        """
    ),
    "causes": _ids(
        """
        stray-grit loaded-lap clumped-compound too-much-compound too-little-compound too-wet too-dry earlier-damage
        step-too-big compound-unsuited pair-unsuited poor-compound held-still compound-too-coarse compound-too-fine
        lap-too-hard lap-too-soft lap-not-true film-laid-wrong speed-too-high speed-too-low pressure-too-high
        pressure-too-low index-off angle-off dop-moved transfer-misaligned hard-direction cleavage-plane
        edge-shedding included-stone overheated residue old-skin lap-not-broken-in height-off machine-play
        carrier-unsuited hard-water too-little-time lap-too-smooth embedded-grain unstable-stone large-facet
        """
    ),
    "remedies": _ids(
        """
        clean-lap clean-everything dedicate-lap recharge-lap less-compound more-compound fresh-slurry acidify-slurry
        wetter drier slow-down speed-up press-lighter press-harder polish-longer change-sweep reverse-direction
        adjust-fine-index adjust-angle re-dop step-back-one step-back-two add-middle-step change-oxide
        oxide-to-diamond diamond-to-oxide finer-compound coarser-compound softer-lap harder-lap to-polishing-film
        to-wax-or-wood-lap refit-film new-film recondition-lap score-lap pick-out-grain lubricate-lap new-compound
        to-composite-lap break-in-lap cold-dop change-lap-and-compound recut-surface protect-edges girdle-first
        shift-off-cleavage let-cool set-aside dry-out-stone set-height tighten-machine change-carrier soft-water
        change-stone accept-and-finish
        """
    ),
    "looks": _ids(
        """
        ink-facet loupe-check soak-and-wipe test-other-stone test-other-facet cross-stroke find-cleavage
        identify-stone check-alignment check-lap-true
        """
    ),
    "cautions": _ids(
        """
        silica-dust asbestos-possible beryllium lead copper-dust manganese-dust rare-earth-dust chromium radioactive
        solvent adhesive heat acid rotating-lap blade electricity eyes oil-mist standing-water
        """
    ),
}
"""List of the knowledge to the ids that must be in it. The cause ``other`` stands in the engine, not in the files."""

LOOK_RESULTS: dict[str, tuple[str, ...]] = {
    "ink-facet": ("even", "one-side", "one-end", "centre", "edges"),
    "loupe-check": ("dotted", "crooked", "continuous", "pits", "clean"),
    "soak-and-wipe": ("gone", "less", "same"),
    "test-other-stone": ("good", "same"),
    "test-other-facet": ("good", "same"),
    "cross-stroke": ("turns", "stays"),
    "find-cleavage": ("near", "far", "not-found"),
    "identify-stone": ("as-named", "other"),
    "check-alignment": ("level", "one-side", "one-end", "wave"),
    "check-lap-true": ("true", "wobbles", "hollow"),
}
"""Look to the results it must be able to tell."""
