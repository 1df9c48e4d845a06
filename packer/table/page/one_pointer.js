// One pointer at a time pulls in a picture: no second finger, and no finger while a pen is down.

/**
 * Hand the events of one pointer to a view.
 *
 * The view's `press` returns whether it takes anything in hand, `move` and `release` follow the
 * pointer that did, and `back` puts back what the pull changed. A pen that comes down takes over
 * from a finger: the palm is often there first.
 */
export function onePointer(svg, view) {
  let own = null; // { id, kind, pulls } of the pointer that is down

  const end = (event) => {
    if (event.pointerId !== own?.id) return null;
    const { pulls } = own;
    own = null;
    return pulls;
  };

  svg.addEventListener("pointerdown", (event) => {
    if (own) {
      if (event.pointerType !== "pen" || own.kind === "pen") return;
      if (own.pulls) view.back();
    }
    const pulls = view.press(event);
    if (!pulls && event.pointerType !== "pen") return;
    own = { id: event.pointerId, kind: event.pointerType, pulls };
    if (pulls) event.preventDefault();
    svg.setPointerCapture(event.pointerId); // so that its end is heard wherever it is lifted
  });
  svg.addEventListener("pointermove", (event) => event.pointerId === own?.id && own.pulls && view.move(event));
  svg.addEventListener("pointerup", (event) => end(event) && view.release(event));
  svg.addEventListener("pointercancel", (event) => end(event) && view.back());
}
