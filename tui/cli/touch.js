// A finger that is drawn over the terminal is told to it as a mouse drag: the screens scroll by it, or mark with it.
// A tap stays what the browser makes of it.
(() => {
  const terminal = document.getElementById("terminal");
  const least = 12;
  let from = null, target = null;
  const tell = (kind, at) => target.dispatchEvent(new MouseEvent(kind, {
    bubbles: true, cancelable: true, view: window, button: 0, buttons: kind === "mouseup" ? 0 : 1,
    clientX: at.clientX, clientY: at.clientY, screenX: at.screenX, screenY: at.screenY,
  }));
  terminal.addEventListener("touchstart", (event) => {
    from = event.touches.length === 1 ? event.touches[0] : null;
    target = null;
  }, { passive: true });
  terminal.addEventListener("touchmove", (event) => {
    event.preventDefault();
    const now = event.touches[0];
    if (from === null) return;
    if (target === null) {
      if (Math.hypot(now.clientX - from.clientX, now.clientY - from.clientY) < least) return;
      target = from.target;
      tell("mousedown", from);
    }
    tell("mousemove", now);
  }, { passive: false });
  for (const end of ["touchend", "touchcancel"]) {
    terminal.addEventListener(end, (event) => {
      if (target !== null) {
        event.preventDefault();
        tell("mouseup", event.changedTouches[0]);
      }
      from = target = null;
    }, { passive: false });
  }
  // the page is as high as what is seen of it: turned round, or with a keyboard on it, the foot stays in sight
  const seen = window.visualViewport;
  const fit = () => {
    terminal.style.height = `${seen.height}px`;
    window.scrollTo(0, 0);
    window.onresize?.();
  };
  let later = 0;
  const soon = () => {
    fit();
    clearTimeout(later);
    later = setTimeout(fit, 350);  // some browsers know the new size only a while after they have turned
  };
  seen.addEventListener("resize", soon);
  screen.orientation?.addEventListener("change", soon);
})();
