// Lets the laptop itself record a touch, where the browser allows it (on this machine, or over https).
// Without this script, or without a microphone, a recording is chosen as a file.

const form = document.querySelector("form[data-record]");
const status = document.querySelector("#recorder");

if (navigator.mediaDevices?.getUserMedia && window.MediaRecorder) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button quiet";
  button.textContent = "Record with this laptop";
  form.insertBefore(button, status);
  let recorder = null;

  // Made for speech, these would take bells for noise.
  const sound = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

  async function begin() {
    const stream = await navigator.mediaDevices.getUserMedia({ audio: sound });
    const blocks = [];
    recorder = new MediaRecorder(stream);
    recorder.addEventListener("dataavailable", (event) => blocks.push(event.data));
    recorder.addEventListener("stop", () => {
      stream.getTracks().forEach((track) => track.stop());
      const files = new DataTransfer();
      files.items.add(new File(blocks, "touch.webm", { type: recorder.mimeType }));
      form.querySelector("input[type=file]").files = files.files;
      form.requestSubmit(form.querySelector("button.button:not(.quiet)"));
    });
    recorder.start(1000);
    button.textContent = "Stop and hear it";
    say("Recording. Look to …");
  }

  function say(words) {
    status.hidden = false;
    status.textContent = words;
  }

  button.addEventListener("click", () => {
    if (recorder) {
      recorder.stop();
      button.disabled = true;
      say("Sending …");
      return;
    }
    begin().catch(() => say("The browser was not allowed to use a microphone, or found none. Choose a file instead."));
  });
}
