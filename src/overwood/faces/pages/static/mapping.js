// Opens the map in place when it is asked for, or at once where an own map lies behind; the picture of the stands stays for who has no script.
const room = document.querySelector("#mapping");
if (room) {
  const door = room.querySelector("#mapping-open");
  const button = door.querySelector("button");
  button.hidden = false;
  const open = async () => {
    button.disabled = true;
    if (!document.querySelector("link[data-map]")) {
      const style = Object.assign(document.createElement("link"), { rel: "stylesheet", href: room.dataset.style });
      style.dataset.map = "yes";
      document.head.append(style);
    }
    const map = await import(room.dataset.bundle);
    door.hidden = true;
    room.querySelector("#mapping-room").hidden = false;
    document.body.classList.add("mapping");
    await map.open(room);
    button.disabled = false;
  };
  button.addEventListener("click", open);
  if (room.dataset.behind) open();
}
