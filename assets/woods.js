// The small library that the woods kit keeps its records with.
export { openDB } from "idb";
