// Stands before a page's first recomputation in tests and reads what the library wrote.
const text = e => e.textContent.replace(/\s+/g, " ").trim();
const shown = () => P.show.map(d => Array.from(place(d.id).querySelectorAll("tbody > tr"), row =>
  Array.from(row.children, e => e.textContent.replace(/\s+/g, " ").trim()).join(" | ")));
const told = () => P.show.map(d => Array.from(place(d.id).querySelectorAll("ul.advisories:not([hidden]) > li"), text));
const words = () => P.describe.map(d => text(place(d.id)));
const lines = () => P.budgets.concat(P.effects).map(d => Array.from(place(d.id).querySelectorAll("tbody > tr"), row => Array.from(row.children, text).join(" | ")));
const captions = () => P.curves.concat(P.effects, P.serial, P.budgets).map(d => text(place(d.id).querySelector("figcaption")));
const state = () => ({ shown: shown(), told: told(), words: words(), lines: lines(), captions: captions(),
  fixed: P.fixed.map(id => { const p = place(id).querySelector("p.as-made"); return !!p && !p.hidden; }) });
const answer = { problems: [] };
answer.written = state();
