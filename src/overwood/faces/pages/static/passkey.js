// A passkey is made or used: the desk asks, the device answers, the desk checks. Without a browser that can, nothing of it shows.
const block = document.querySelector("[data-passkey]");
const able = window.PublicKeyCredential && PublicKeyCredential.parseCreationOptionsFromJSON && PublicKeyCredential.parseRequestOptionsFromJSON;
if (block && able) {
  block.hidden = false;
  const form = block.querySelector("form"), said = block.querySelector("[role=status]");
  const send = async (body) => {
    const headers = { "Content-Type": "application/json", "X-CSRFToken": form.elements.csrfmiddlewaretoken.value };
    const response = await fetch(block.dataset.passkey, { method: "POST", headers, body: JSON.stringify(body) });
    const told = await response.json();
    if (!response.ok) throw new Error(told.what);
    return told;
  };
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    said.textContent = "Asking your device.";
    try {
      const fields = Object.fromEntries(new FormData(form));
      const asked = await send({ old: fields.old });
      const made = "label" in fields
        ? await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(asked.options) })
        : await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(asked.options) });
      const done = await send({ state: asked.state, answer: made.toJSON(), label: fields.label, next: fields.next });
      location.assign(done.after);
      if (done.after.startsWith(location.pathname + "#")) location.reload();
    } catch (fault) {
      said.textContent = fault.name === "NotAllowedError" ? "The device gave no passkey." : fault.message;
    }
  });
}
