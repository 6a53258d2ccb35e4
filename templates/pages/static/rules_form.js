// Shows what the rules do as they are changed. Without this script a button does it.

const form = document.querySelector("[data-lively]");
let asking = null;

const named = (root, name) => [...root.querySelectorAll(`[name="${CSS.escape(name)}"]`)];

// Whatever was typed since the question was sent stays; the rest follows the answer.
function follow(sent, now) {
  for (const theirs of now.querySelectorAll("input[name], select[name], textarea[name]")) {
    const at = named(now, theirs.name).indexOf(theirs);
    const ours = named(form, theirs.name)[at];
    if (!ours) continue;
    if (ours.tagName === "SELECT" && ours.length !== theirs.length) ours.replaceChildren(...[...theirs.options].map((one) => one.cloneNode(true)));
    if (ours.value === (sent.getAll(theirs.name)[at] ?? "") && ours.value !== theirs.value) ours.value = theirs.value;
    for (const word of ["aria-describedby", "aria-invalid"]) {
      if (theirs.hasAttribute(word)) ours.setAttribute(word, theirs.getAttribute(word));
      else ours.removeAttribute(word);
    }
    const field = ours.closest(".field, .slots");
    field?.querySelector(".wrong")?.remove();
    const wrong = theirs.closest(".field, .slots")?.querySelector(".wrong");
    if (wrong) {
      ours.before(wrong.cloneNode(true));
      for (let fold = ours.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    }
  }
}

// A table of the file that came or went has its fields come or go.
function regroup(now) {
  for (const topic of now.querySelectorAll(".topic")) {
    const ours = document.getElementById(topic.id);
    const parts = (root) => [...root.querySelectorAll("[id^=part-]")].map((part) => part.tagName + part.id).join(" ");
    const slots = (root) => root.querySelectorAll(".slots select").length;
    if (parts(ours) === parts(topic) && slots(ours) === slots(topic)) continue;
    const focused = ours.contains(document.activeElement) && document.activeElement.id;
    ours.replaceChildren(...[...topic.cloneNode(true).childNodes]);
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
}

async function show() {
  asking?.abort();
  const { signal } = (asking = new AbortController());
  const sent = new FormData(form);
  const body = new URLSearchParams([...sent, ["do", "show"]]);
  try {
    const answer = await fetch(form.action, { method: "POST", body, signal, headers: { accept: "text/html" } });
    const now = new DOMParser().parseFromString(await answer.text(), "text/html");
    const theirs = now.querySelector("[data-lively]");
    if (!theirs) return;
    follow(sent, theirs);
    regroup(theirs);
    document.getElementById("above").replaceChildren(...now.getElementById("above").childNodes);
    const open = document.querySelector("#example details")?.open;
    document.getElementById("example").replaceChildren(...now.getElementById("example").childNodes);
    const words = document.querySelector("#example details");
    if (words && open) words.open = true;
  } catch (error) {
    if (error.name !== "AbortError") console.info("The example is as it was; the button still shows it.", error);
  }
}

form.addEventListener("change", show);
