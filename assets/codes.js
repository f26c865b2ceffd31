// What the woods kit draws codes on the screen with.
export { encode } from "uqr";
