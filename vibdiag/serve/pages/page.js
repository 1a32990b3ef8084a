// Starts the terminal widget once its fonts are there: it measures a cell when it starts, and never again.
"use strict";

const WEIGHTS = ["16px", "bold 16px", "italic 16px", "italic bold 16px"];

function load(address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = resolve;
    script.onerror = () => reject(new Error(`${address} could not be loaded`));
    document.head.append(script);
  });
}

function watchState() {
  const observer = new MutationObserver(() => {
    const marks = document.body.classList;
    if (marks.contains("-closed")) document.getElementById("again").focus();
    else if (marks.contains("-first-byte")) document.querySelector(".xterm-helper-textarea").focus();
  });
  observer.observe(document.body, { attributeFilter: ["class"] });
}

// Names this tab as long as it lives, also over a reload: each tab goes on with its own case.
function tab() {
  let name = sessionStorage.getItem("vibdiag-tab");
  if (!name) {
    const bytes = crypto.getRandomValues(new Uint8Array(8));
    name = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    sessionStorage.setItem("vibdiag-tab", name);
  }
  return name;
}

async function start() {
  const scheme = location.protocol === "https:" ? "wss:" : "ws:";
  document.getElementById("terminal").dataset.sessionWebsocketUrl = `${scheme}//${location.host}/ws/${tab()}`;
  document.getElementById("again").addEventListener("click", () => location.reload());
  watchState();
  // A font that fails is no reason to show nothing: the widget falls back on the system's.
  await Promise.allSettled(WEIGHTS.map((weight) => document.fonts.load(`${weight} "Roboto Mono"`)));
  await load("/static/terminal.js");
  // The widget waits for an event that has passed already.
  window.onload(new Event("load"));
}

window.addEventListener("load", () => {
  start().catch((error) => {
    document.querySelector("#waiting p").textContent = `The screens could not be started: ${error.message}`;
  });
});
