// Says the words of the crew's language.
import { WORDS } from "./words.js";

let language = "en";

export const spoken = () => language;
export const languages = Object.keys(WORDS);

export function speak(code) {
  language = code in WORDS ? code : "en";
  document.documentElement.lang = language;
}

// A text by its key, with its named values in place. A kind of thing that a newer desk knows is shown by its key.
export function t(key, values = {}) {
  // One of a thing has words of its own.
  const text = (values.n === 1 && WORDS[language][`${key} 1`]) || (WORDS[language][key] ?? key);
  return text.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
}
