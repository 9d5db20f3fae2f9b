/* The owner's figure, to be zoomed and read value by value: it takes the place of what its button names, and a second
   tap brings that back. Without script, network or plotly it simply stays.

   <button type="button" hidden data-chart-url="figure.json" data-chart-target="all-results"
           data-plotly-src="plotly-basic.js" data-words-back="Back to the list"
           data-words-failed="The page did not answer. The list stays.">Explore</button>
   <div id="all-results">…</div>

   Plotly's own rules are linked by the page, or named here as data-plotly-css to be fetched with it. */
const scripts = new Map();
const open = new Map();

function loadScript(src) {
  if (!scripts.has(src)) {
    scripts.set(src, new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = src;
      script.onload = resolve;
      script.onerror = () => { scripts.delete(src); script.remove(); reject(new Error(src)); };
      document.head.append(script);
    }));
  }
  return scripts.get(src);
}

// Plotly would write its rules into the page; this id and class tell it that they are already there as a file.
function loadRules(href) {
  if (!href || document.getElementById("plotly.js-style-global")) return Promise.resolve();
  return new Promise((resolve) => {
    const link = document.createElement("link");
    link.id = "plotly.js-style-global";
    link.className = "no-inline-styles";
    link.rel = "stylesheet";
    link.onload = link.onerror = resolve;
    link.href = href;
    document.head.append(link);
  });
}

async function loadFigure(url) {
  const answer = await fetch(url, { credentials: "same-origin", headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(String(answer.status));
  return answer.text();
}

// The figure speaks in colours of the light scheme; each is repainted with the page's own.
function repainted(text) {
  const figure = JSON.parse(text);
  const page = getComputedStyle(document.documentElement);
  const colours = new Map();
  for (const [literal, property] of Object.entries(figure.layout.meta.tokens)) {
    colours.set(literal, page.getPropertyValue(property).trim() || literal);
  }
  const repaint = (part) => {
    for (const [key, value] of Object.entries(part)) {
      if (typeof value === "string") part[key] = colours.get(value) || value;
      else if (value && typeof value === "object") repaint(value);
    }
    return part;
  };
  repaint(figure.data);
  repaint(figure.layout);
  return figure;
}

// The line under a drawing that says, also aloud, why it stays a drawing.
function failure(drawing) {
  if (drawing.nextElementSibling?.classList.contains("chart-failed")) return drawing.nextElementSibling;
  const said = document.createElement("p");
  said.className = "chart-failed";
  said.setAttribute("role", "status");
  drawing.after(said);
  return said;
}

const config = { displayModeBar: false, responsive: true, scrollZoom: false };

async function show(button) {
  const drawing = document.getElementById(button.dataset.chartTarget);
  const said = failure(drawing);
  let plot;
  button.disabled = true;
  said.textContent = "";
  try {
    const [text] = await Promise.all([
      loadFigure(button.dataset.chartUrl),
      loadScript(button.dataset.plotlySrc),
      loadRules(button.dataset.plotlyCss),
    ]);
    const figure = repainted(text);
    plot = document.createElement("div");
    plot.className = "chart-plot";
    plot.setAttribute("role", "img");
    plot.setAttribute("aria-label", figure.layout.meta.sentence);
    drawing.after(plot);
    drawing.hidden = true;
    await window.Plotly.newPlot(plot, figure.data, figure.layout, config);
    open.set(button, { plot, drawing, text, words: button.textContent.trim() });
    button.textContent = button.dataset.wordsBack || button.textContent;
    button.setAttribute("aria-pressed", "true");
  } catch {
    drawing.hidden = false;
    plot?.remove();
    said.textContent = button.dataset.wordsFailed || "";
  } finally {
    button.disabled = false;
    button.focus();
  }
}

function hide(button) {
  const { plot, drawing, words } = open.get(button);
  open.delete(button);
  window.Plotly.purge(plot);
  plot.remove();
  drawing.hidden = false;
  button.textContent = words;
  button.setAttribute("aria-pressed", "false");
  button.focus();
}

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-chart-url]");
  if (!button) return;
  if (open.has(button)) hide(button);
  else show(button);
});

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
  for (const { plot, text } of open.values()) {
    const figure = repainted(text);
    window.Plotly.react(plot, figure.data, figure.layout, config);
  }
});

// The buttons work only with script, so only script shows them.
function ready() {
  for (const button of document.querySelectorAll("[data-chart-url][hidden]")) button.hidden = false;
}
document.addEventListener("htmx:afterSettle", ready);
if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", ready);
else ready();
