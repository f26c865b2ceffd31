// A file dropped anywhere on the form goes into its field; without a script the field itself takes it.
const form = document.querySelector("form.drop");
if (form) {
  const field = form.querySelector("input[type=file]");
  for (const name of ["dragenter", "dragover"]) form.addEventListener(name, (event) => { event.preventDefault(); form.classList.add("over"); });
  for (const name of ["dragleave", "drop"]) form.addEventListener(name, () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    if (!event.dataTransfer.files.length) return;
    field.files = event.dataTransfer.files;
    form.requestSubmit();
  });
}
