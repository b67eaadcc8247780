// How words for children are lettered: as the tablet has its letters, or with a and g of one storey where it has such a
// font. Kept in the browser; it says nothing about anybody.

import { choice, h } from "./dom.js";

const KEY = "plumbline.letterforms";

/** @returns {"system" | "single"} */
export function letterforms() {
  try {
    return localStorage.getItem(KEY) === "single" ? "single" : "system";
  } catch {
    return "system";
  }
}

/** @param {string} which */
export function setLetterforms(which) {
  try {
    localStorage.setItem(KEY, which);
  } catch {
    // A browser that keeps nothing shows them until the page is left.
  }
  document.documentElement.dataset.letters = which;
}

/** Puts the choice into force when the client starts. */
export function useLetterforms() {
  document.documentElement.dataset.letters = letterforms();
}

/**
 * Fonts with a and g of one storey that tablets and laptops have; the style sheet names the same.
 */
const FONTS = [
  "Andika",
  "Comic Neue",
  "Comic Sans MS",
  "Chalkboard SE",
  "Chalkboard",
  "Coming Soon",
  "Century Gothic",
  "Futura",
  "URW Gothic",
];

/** Whether this tablet has one of them: text set in it is not as wide as in the font it would fall back to. */
function hasFont() {
  const pen = document.createElement("canvas").getContext("2d");
  const width = (/** @type {string} */ family) => {
    if (pen) {
      pen.font = `40px ${family}`;
    }
    return pen?.measureText("a big fog, qqq").width;
  };
  const fallback = width("monospace");
  return FONTS.some((family) => width(`"${family}", monospace`) !== fallback);
}

/** The choice, or words where there is none to make. */
export function letterformChoice() {
  /** @type {[string, string][]} */
  const two = [
    ["system", "As this tablet has them"],
    ["single", "One-storey a and g"],
  ];
  return hasFont()
    ? choice("letters", "Letters of words for children", two, letterforms(), setLetterforms, { class: "choice small" })
    : h("p", { class: "quiet" }, "This tablet has no font with a one-storey a and g, so letters are as they are.");
}
