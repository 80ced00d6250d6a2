// The report's only script: ties the maps to the ledgers and findings that stand in the page already.
// Without it everything can still be read.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const SVG = "http://www.w3.org/2000/svg";
  const pinned = new Map(); // map's number -> what stays shown there when the pointer has left
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];

  const made = (tag, words, name) => {
    const one = document.createElement(tag);
    one.textContent = words;
    if (name) one.className = name;
    return one;
  };

  // Outlines are copies laid over everything, a light one below a dark one: they stand out on any colour.
  function outline(map, marks) {
    const svg = map.querySelector("svg.field");
    all("g.outlined", svg).forEach((old) => old.remove());
    if (!marks.length) return;
    for (const name of ["below", "above"]) {
      const group = document.createElementNS(SVG, "g");
      group.setAttribute("class", `outlined ${name}`);
      for (const mark of marks) {
        const shape = mark.matches("path") ? mark : mark.querySelector("path"); // a hatched one is a group
        const copy = shape.cloneNode(false);
        for (const each of ["class", "data-key", "data-row", "data-ground", "tabindex", "role", "aria-label"]) {
          copy.removeAttribute(each);
        }
        group.append(copy);
      }
      svg.append(group);
    }
  }

  function say(map, parts) {
    const readout = map.querySelector(".readout");
    readout.replaceChildren(...parts);
    readout.classList.toggle("filled", parts[0] !== hints.get(map));
  }

  function line(map, row) {
    return document.getElementById(`row-${map.dataset.map}-${row}`);
  }

  // A zone: the cells of its line in the ledger (of a check: in the table of rates), under their heads.
  function showRow(map, row) {
    const marks = all(`[data-row="${row}"]`, map.querySelector("svg.field"));
    outline(map, marks);
    const found = line(map, row);
    const heads = all("thead th", found.closest("table"));
    const list = document.createElement("dl");
    [...found.cells].forEach((cell, at) => {
      const [word, unit] = [...heads[at].children].map((each) => each.textContent);
      const value = cell.textContent;
      if (!value && word !== "Why") return;
      const pair = document.createElement("div");
      if (!cell.classList.contains("number")) pair.className = "wide";
      if (word === "Given" || word === "Rate") pair.className = "given";
      pair.append(made("dt", word), made("dd", value ? `${value}${unit ? " " + unit : ""}` : "nothing changed the rate"));
      list.append(pair);
    });
    const parts = [list];
    if (marks.length > 1) parts.push(made("p", `It lies in ${marks.length} parts, all of them outlined.`));
    const link = made("a", `Its line in the ${map.dataset.table || "ledger"}`);
    link.href = `#${found.id}`;
    parts.push(link);
    say(map, parts);
  }

  function showFinding(map, number) {
    const marks = all(`[data-ground="${number}"]`, map);
    outline(map, marks);
    all("a[data-finding]", map).forEach((each) => each.classList.toggle("shown", each.dataset.finding === number));
    const item = document.getElementById(`finding-${number}`);
    const word = item.querySelector(".badge b").textContent;
    const title = item.querySelector("strong").textContent;
    const parts = [made("p", `${word}: ${title}`, "found")];
    const about = item.querySelector(".about");
    if (about) parts.push(made("p", about.textContent));
    if (marks.length) parts.push(made("p", "Its ground is outlined on the map."));
    const link = made("a", `Read finding ${number}`);
    link.href = `#${item.id}`;
    parts.push(link);
    say(map, parts);
  }

  function show(map, what) {
    all("a.shown", map).forEach((each) => each.classList.remove("shown"));
    if (what?.row !== undefined) showRow(map, what.row);
    else if (what?.finding !== undefined) showFinding(map, what.finding);
    else {
      outline(map, []);
      say(map, [hints.get(map)]);
    }
  }

  function pin(map, what) {
    pinned.set(map, what);
    show(map, what);
  }

  function whatIs(target) {
    const mark = target.closest?.("[data-row], [data-finding]");
    return mark && { row: mark.dataset.row, finding: mark.dataset.finding };
  }

  const hints = new Map();
  const maps = all("article[data-map]");
  for (const map of maps) {
    const readout = map.querySelector(".readout");
    hints.set(map, readout.firstElementChild);
    readout.hidden = false;
    const svg = map.querySelector("svg.field");
    const zones = all("[data-row]", svg);

    // One stop of the Tab key a map; from there the arrow keys go from zone to zone.
    let current = 0;
    const enter = (at) => {
      zones[current].removeAttribute("tabindex");
      current = (at + zones.length) % zones.length;
      const zone = zones[current];
      zone.setAttribute("tabindex", "0");
      zone.setAttribute("role", "img");
      return zone;
    };
    if (zones.length) enter(0);

    // Moved, not merely over: a page that scrolls below a resting pointer changes nothing.
    let under = null;
    svg.addEventListener("pointermove", (event) => {
      if (event.target === under) return;
      under = event.target;
      const what = whatIs(under);
      if (!what) return;
      // The panel tells it at once: the browser's own title would only cover the map.
      const title = event.target.closest("[data-row]")?.querySelector("title");
      if (title) {
        title.parentElement.setAttribute("aria-label", title.textContent);
        title.remove();
      }
      show(map, what);
    });
    svg.addEventListener("pointerleave", () => {
      under = null;
      show(map, pinned.get(map));
    });
    svg.addEventListener("focusin", (event) => {
      const what = whatIs(event.target);
      if (what) show(map, what);
    });
    svg.addEventListener("focusout", () => show(map, pinned.get(map)));
    svg.addEventListener("click", (event) => {
      const what = whatIs(event.target);
      if (what?.row !== undefined) enter(zones.indexOf(event.target.closest("[data-row]")));
      pin(map, what);
      // On a narrow screen the panel may have come up over what was tapped.
      const hidden = event.clientY + 40 - readout.getBoundingClientRect().top;
      if (what && hidden > 0 && getComputedStyle(readout).position === "sticky") window.scrollBy(0, hidden);
    });
    svg.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (step && event.target.closest("[data-row]")) {
        event.preventDefault();
        enter(current + step).focus();
      } else if ((event.key === "Enter" || event.key === " ") && event.target.closest("[data-row]")) {
        event.preventDefault();
        pin(map, whatIs(event.target));
      }
    });
  }

  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") maps.forEach((map) => pin(map, undefined));
  });

  // From a line of the ledger or a finding to the map; the link itself goes there.
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href^='#']");
    if (!link) return;
    reveal(link.hash);
    const map = maps.find((each) => `#${each.id}` === link.hash);
    if (!map) return;
    if (link.dataset.row !== undefined) pin(map, { row: link.dataset.row });
    if (link.dataset.show !== undefined) {
      const number = link.dataset.show;
      maps.filter((each) => each.querySelector(`a[data-finding="${number}"]`)).forEach((each) => pin(each, { finding: number }));
    }
  });

  // What a link leads to may lie in a closed part.
  function reveal(hash) {
    const target = document.getElementById(decodeURIComponent(hash.slice(1)));
    for (let box = target?.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
    return target;
  }
  reveal(location.hash)?.scrollIntoView();

  // Paper shows everything.
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = all("details:not([open])");
    opened.forEach((each) => (each.open = true));
  });
  window.addEventListener("afterprint", () => opened.forEach((each) => (each.open = false)));
});
