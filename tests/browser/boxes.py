"""Measures the boxes of a page's words: what sticks out of it, what is cut, what lies over what; judges nothing."""

# Words that stick out sideways of the page and of no part that can be scrolled; words in a box that hides the rest
# of them; and words of two places that lie over each other. Drawings have their own tests, panels lie over by
# design, and what is clipped away is there for the ear.
LOST_WORDS = """
() => {
  const wide = document.documentElement.clientWidth;
  const lost = [], shown = [];
  const say = (el) => el.textContent.trim().replace(/\\s+/g, ' ').slice(0, 40);
  const scrolls = (el) => { for (let up = el; up; up = up.parentElement) {
    const way = getComputedStyle(up).overflowX;
    if ((way === 'auto' || way === 'scroll') && up !== document.body && up !== document.documentElement) return true;
  } return false; };
  const isClipped = (el) => { for (let up = el; up; up = up.parentElement) {
    if (getComputedStyle(up).clipPath !== 'none') return true;
  } return false; };
  const floats = (el) => { for (let up = el; up; up = up.parentElement) {
    const place = getComputedStyle(up).position;
    if (place === 'absolute' || place === 'fixed' || place === 'sticky') return true;
  } return false; };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const el = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || !el) continue;
    // The box of the run's digits has room for letters above and below, that no digit fills.
    if (el.closest('svg, .unseen, .skip, script, template, option, noscript, .count[role=timer]')) continue;
    if (!el.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
    if (isClipped(el)) continue;
    const range = document.createRange();
    range.selectNodeContents(walker.currentNode);
    for (const box of range.getClientRects()) {
      if (box.width < 2 || box.height < 2) continue;
      if ((box.right > wide + 1 || box.left < -1) && !scrolls(el)) lost.push('out: ' + say(el));
      shown.push({ el, box, floats: floats(el) });
    }
    for (let up = el; up && up !== document.body; up = up.parentElement) {
      const style = getComputedStyle(up);
      const cuts = style.overflowX === 'hidden' || style.overflowX === 'clip';
      if (cuts && up.clientWidth > 1 && up.scrollWidth > up.clientWidth + 1) lost.push('cut: ' + say(el));
    }
  }
  shown.sort((a, b) => a.box.top - b.box.top);
  for (let i = 0; i < shown.length; i++) {
    for (let j = i + 1; j < shown.length && shown[j].box.top < shown[i].box.bottom - 3; j++) {
      const [a, b] = [shown[i], shown[j]];
      if (a.floats !== b.floats || a.el === b.el || a.el.contains(b.el) || b.el.contains(a.el)) continue;
      const across = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
      const down = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
      // Lines of text are a little higher than their letters.
      const isOver = across > 2 && down > 0.45 * Math.min(a.box.height, b.box.height);
      if (isOver) lost.push(`over: ${say(a.el)} | ${say(b.el)}`);
    }
  }
  return [...new Set(lost)];
}
"""
