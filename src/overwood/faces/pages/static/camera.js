// The codes on a phone's screen, read one after another by this computer's camera into the field that a scanner fills.
const block = document.querySelector("[data-camera]");
const [start, stop] = block.querySelectorAll("button");
const [video, said, field] = [block.querySelector("video"), block.querySelector("[role=status]"), document.getElementById("scanned")];
const PART = /^WOODS1\/(\w+)\/(\d+)\/(\d+)\//;
const PAUSE_MS = 150;
let stream = null;

const lines = () => field.value.split("\n").filter((line) => line.trim());

function tell() {
  const whole = new Map(lines().map((line) => PART.exec(line)).filter(Boolean).map(([, mark, , all]) => [mark, Number(all)]));
  const places = (mark) => new Set(lines().map((line) => PART.exec(line)).filter((part) => part?.[1] === mark).map((part) => part[2]));
  const missing = [...whole].flatMap(([mark, all]) => Array.from({ length: all }, (_, at) => String(at + 1)).filter((place) => !places(mark).has(place)));
  const read = lines().length;
  if (!read) said.textContent = "Hold the phone before the camera, the whole code in the picture.";
  else if (missing.length) said.textContent = `${read} codes are read. Still to come: ${missing.join(", ")}.`;
  else said.textContent = `All ${read} codes are read. Take the taps in.`;
  return read > 0 && !missing.length;
}

async function frame() {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
  canvas.getContext("2d").drawImage(video, 0, 0);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.9));
}

async function read() {
  const body = new FormData();
  body.set("frame", await frame(), "frame.jpg");
  const token = field.form.elements.csrfmiddlewaretoken.value;
  const { texts } = await (await fetch("/walks/codes/", { method: "POST", body, headers: { "X-CSRFToken": token } })).json();
  const fresh = texts.filter((text) => PART.test(text) && !lines().includes(text));
  if (fresh.length) field.value = [...lines(), ...fresh].join("\n");
}

function end() {
  stream?.getTracks().forEach((track) => track.stop());
  stream = null;
  video.hidden = stop.hidden = true;
}

stop.addEventListener("click", end);
start.addEventListener("click", async () => {
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1920 } } });
  } catch {
    said.textContent = "There is no camera, or it is not allowed for this page. Allow it in the browser, or choose pictures of the codes above. Nothing is lost: the phone keeps its taps.";
    return;
  }
  video.srcObject = stream;
  video.hidden = stop.hidden = false;
  await video.play();
  tell();
  try {
    while (stream) {
      await read();
      if (tell()) break;
      await new Promise((go) => setTimeout(go, PAUSE_MS));
    }
  } catch {
    said.textContent = "The desk did not answer. What was read stays in the field; start the camera again.";
  }
  end();
});
block.hidden = !navigator.mediaDevices?.getUserMedia;
