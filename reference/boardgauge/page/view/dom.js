// Make and change elements.
//
// Law of this file: text goes in as text, never as markup; an element changes only where something about it changed, so
// that focus and screen readers are left in peace.

// Make an element: make("button", { class: "wide", onclick: f }, "text", child, ...).
function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else put(element, name, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

// Make an SVG element.
function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

// Set an attribute; false or null takes it away, true leaves it empty.
function put(element, name, value) {
  if (value === false || value === null || value === undefined) {
    if (element.hasAttribute(name)) element.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (element.getAttribute(name) !== text) element.setAttribute(name, text);
}

// Set the text of an element.
function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// Let an element hold just these children.
function fill(element, ...children) {
  element.replaceChildren(...children);
}

function byId(id) {
  return document.getElementById(id);
}

function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
