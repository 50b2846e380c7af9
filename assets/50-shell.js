// Theme and place: the small part of the frame that lives in the browser.
(function () {
  "use strict";
  const system = window.matchMedia("(prefers-color-scheme: dark)");
  let choice = "auto";

  function shown() {
    return choice === "auto" ? (system.matches ? "dark" : "light") : choice;
  }

  function mark() {
    if (choice === "auto") {
      delete document.documentElement.dataset.theme;
    } else {
      document.documentElement.dataset.theme = choice;
    }
  }

  system.addEventListener("change", function () {
    if (choice === "auto") {
      window.dash_clientside.set_props("shell-provider", { forceColorScheme: shown() });
      window.dash_clientside.set_props("shell-theme", { data: shown() });
    }
  });

  function belongs(href, path) {
    return href === "/" ? path === "/" || path.startsWith("/engine/") : path.startsWith(href);
  }

  // "Chart as image": drawn and saved by the browser; nothing leaves it.
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-chart]");
    const holder = button && document.getElementById(button.dataset.chart);
    const plot = holder && holder.querySelector(".js-plotly-plot");
    if (plot) {
      window.Plotly.downloadImage(plot, { format: "svg", filename: button.dataset.chart,
        width: plot.clientWidth, height: plot.clientHeight });
    }
  });

  let arrived = false;
  let typing = 0;
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    oiltrend: {
      theme: function (value) {
        choice = value === "light" || value === "dark" ? value : "auto";
        mark();
        return [shown(), shown()];
      },
      // Typing goes on: wait until it pauses, then let the page know.
      pause: function () {
        clearTimeout(typing);
        typing = setTimeout(function () {
          // The form may have been stored and be gone by now.
          if (document.getElementById("hand-check")) {
            window.dash_clientside.set_props("hand-pause", { data: Date.now() });
          }
        }, 400);
        return window.dash_clientside.no_update;
      },
      // Points to the page in the rail, moves the reader's place to it, and clears old notices.
      arrive: function (path) {
        document.querySelectorAll(".nav a").forEach(function (link) {
          if (belongs(link.getAttribute("href"), path || "/")) {
            link.setAttribute("aria-current", "page");
          } else {
            link.removeAttribute("aria-current");
          }
        });
        if (arrived) {
          window.scrollTo(0, 0);
          const main = document.getElementById("main");
          if (main) { main.focus({ preventScroll: true }); }
        }
        arrived = true;
        return null;
      }
    }
  });
})();

// Files: chosen or dropped, sent as they are, and the word for them handed to the page.
(function () {
  "use strict";

  function say(text) {
    window.dash_clientside.set_props("file-name", { children: text });
  }

  async function send(file, store) {
    say("Sending " + file.name + " …");
    const body = new FormData();
    body.append("file", file);
    let answer;
    let told = {};
    try {
      answer = await fetch("/api/upload", { method: "POST", body: body });
      told = await answer.json();
    } catch (fault) {
      told = {};
    }
    if (answer && answer.ok) {
      say(told.filename);
      window.dash_clientside.set_props(store, { data: told.token });
    } else {
      say(told.error || (answer && answer.status === 413
        ? file.name + " is too large; a file may have 14 MiB at most."
        : "The file could not be sent; is the program still running?"));
    }
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-choose]");
    if (!button) { return; }
    const field = document.createElement("input");
    field.type = "file";
    field.accept = ".csv,.tsv,.txt,text/csv,text/plain";
    field.addEventListener("change", function () {
      if (field.files.length) { send(field.files[0], button.dataset.choose); }
    });
    field.click();
  });

  document.addEventListener("dragover", function (event) {
    if (event.target.closest("[data-upload]")) { event.preventDefault(); }
  });
  document.addEventListener("drop", function (event) {
    const box = event.target.closest("[data-upload]");
    if (box && event.dataTransfer.files.length) {
      event.preventDefault();
      send(event.dataTransfer.files[0], box.dataset.upload);
    }
  });
})();

// Keys above the results of a typed sample: "<" and "ND" go into the field in use.
(function () {
  "use strict";
  const write = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, "value").set;

  document.addEventListener("pointerdown", function (event) {
    // The field in use keeps its place, and the phone its number pad.
    if (event.target.closest("[data-key]")) { event.preventDefault(); }
  });
  document.addEventListener("click", function (event) {
    const key = event.target.closest("[data-key]");
    const field = document.activeElement;
    if (!key || !field || !field.closest(".readings")) { return; }
    if (key.dataset.key === "Next") {
      const fields = Array.from(document.querySelectorAll(".readings input"));
      const next = fields[fields.indexOf(field) + 1];
      if (next) { next.focus(); }
      return;
    }
    const text = key.dataset.key === "ND" ? "ND"
      : field.value.startsWith("<") ? field.value.slice(1) : "<" + field.value;
    write.call(field, text);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
})();
