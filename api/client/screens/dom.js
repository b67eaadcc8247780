// Makes elements. Text becomes text nodes and nothing else, so nothing in a name or a word is ever markup.

/** @typedef {Node | string | number | null | undefined | false} One */
/** What can stand in an element: a list stands for what is in it. @typedef {One | Children} Child */
/** @typedef {Child[]} Children */

/**
 * An element: `h("button", { class: "main", onclick: save, disabled: busy }, "Save")`.
 * Attributes that are null, undefined or false are left out; functions are listeners, named as on…; `value` and
 * `checked` are set as properties.
 * @param {string} tag
 * @param {{[name: string]: any}} [attributes]
 * @param {...Child} children
 * @returns {any} the element, of the tag's own type
 */
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  // A list's choice can only be set once its options are there.
  element.append(...nodes(children));
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) {
      continue;
    }
    if (typeof value === "function") {
      element.addEventListener(name.slice(2), value);
    } else if (name === "value" || name === "checked") {
      /** @type {any} */ (element)[name] = value;
    } else {
      element.setAttribute(name, value === true ? "" : String(value));
    }
  }
  return element;
}

/**
 * Puts children in the place of all that is in an element. What had the focus has it again, where something of the
 * same id is still there.
 * @param {Element} element
 * @param {...Child} children
 */
export function fill(element, ...children) {
  const at = document.activeElement;
  const id = at && element.contains(at) ? at.id : "";
  element.replaceChildren(...nodes(children));
  if (id) {
    document.getElementById(id)?.focus();
  }
}

/**
 * As `fill`, but what would look the same is left as it is: a touch that is under way while something is drawn again is
 * not lost. For children whose listeners know nothing that is not to be seen in them.
 * @param {Element} element
 * @param {...Child} children
 */
export function renew(element, ...children) {
  const wanted = h("div", {}, children);
  const now = element.childNodes;
  const same =
    now.length === wanted.childNodes.length &&
    [...now].every((one, n) => one.isEqualNode(wanted.childNodes[n] ?? null));
  if (!same) {
    fill(element, [...wanted.childNodes]);
  }
}

/**
 * @param {Child[]} children
 * @returns {(Node | string)[]}
 */
function nodes(children) {
  return children.flatMap((child) => {
    if (Array.isArray(child)) {
      return nodes(child);
    }
    return child === null || child === undefined || child === false
      ? []
      : [child instanceof Node ? child : String(child)];
  });
}

/**
 * A name, in whatever script and direction.
 * @param {string} text
 */
export const name = (text) => h("bdi", {}, text);

/**
 * A link to another screen.
 * @param {string} path  what follows "#"
 * @param {{[name: string]: any}} attributes
 * @param {...Child} children
 */
export const link = (path, attributes, ...children) => h("a", { href: "#" + path, ...attributes }, ...children);

/**
 * A button.
 * @param {() => void} act
 * @param {{[name: string]: any}} attributes
 * @param {...Child} children
 */
export const button = (act, attributes, ...children) =>
  h("button", { type: "button", onclick: act, ...attributes }, ...children);

/**
 * One choice of several, as radio buttons whose whole labels can be touched.
 * @template {string} T
 * @param {string} group   the name the choices share, unlike any other on the screen
 * @param {Child} legend   what is chosen
 * @param {[T, string][]} choices  values with what is shown
 * @param {T | null} value         what is chosen at first
 * @param {(value: T) => void} chosen
 * @param {{[name: string]: any}} [attributes]
 */
export function choice(group, legend, choices, value, chosen, attributes = {}) {
  return h(
    "fieldset",
    { class: "choice", ...attributes },
    h("legend", {}, legend),
    choices.map(([code, shown]) =>
      h(
        "label",
        {},
        h("input", {
          type: "radio",
          name: group,
          value: code,
          checked: code === value,
          onchange: () => chosen(code),
        }),
        h("span", {}, shown),
      ),
    ),
  );
}

/**
 * One thing that is ticked or not, whose whole label can be touched.
 * @param {Child} shown
 * @param {boolean} checked  whether it is ticked at first
 * @param {(on: boolean) => void} changed
 */
export const tick = (shown, checked, changed) =>
  h(
    "label",
    { class: "tick" },
    h("input", {
      type: "checkbox",
      checked,
      onchange: (/** @type {any} */ event) => changed(event.target.checked),
    }),
    h("span", {}, shown),
  );

/**
 * A line to fill in under its label.
 * @param {string} id
 * @param {string} label
 * @param {{[name: string]: any}} attributes  of the input
 */
export function field(id, label, attributes) {
  const input = h("input", { id, required: true, ...attributes });
  return { input, shown: h("p", { class: "field" }, h("label", { for: id }, label), input) };
}

/**
 * Gives the focus to what comes first in a part that was drawn anew, marked `data-first`.
 * @param {Element} body
 */
export const focus = (body) => /** @type {HTMLElement | null} */ (body.querySelector("[data-first]"))?.focus();
