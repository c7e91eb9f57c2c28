// What HTML cannot do: acts that wait in this phone until the server has them. Without this script
// every form works as a form. An act is stored before it is drawn, sent in order, always under the
// same id; the server answers one id in one way for ever, so that a tab may send it again, and two
// tabs may both. What is asked about or refused steps aside, and only what rests on it waits.
"use strict";
(() => {
  const PAUSES = [1, 2, 4, 8, 15]; // seconds between tries
  const DAY = 86400e3;
  const WIDEST = 2048; // pixels of a photo that is sent
  const memory = new Map(); // of what is stored: a phone may throw its store away
  const status = document.getElementById("saved");
  const person = status && status.textContent.includes(" · ") ? status.textContent.split(" · ")[0] + " · " : "";
  let database = null, trying = null, tries = 0, sending = false, locked = false;

  const fresh = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
  const make = (name, text, kind) => Object.assign(document.createElement(name), { textContent: text || "", className: kind || "" });
  const token = () => (document.querySelector('input[name="token"]') || {}).value || "";
  const clock = () => new Date().toTimeString().slice(0, 5);

  // the store

  function open() {
    database = database || new Promise((done, failed) => {
      const asked = indexedDB.open("buildlog", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("acts", { keyPath: "n", autoIncrement: true });
      asked.onerror = () => failed(asked.error);
      asked.onsuccess = () => {
        asked.result.onclose = () => { database = null; };
        done(asked.result);
      };
    });
    return database;
  }

  async function within(mode, work, again = true) {
    try {
      const held = await open();
      return await new Promise((done, failed) => {
        const step = held.transaction("acts", mode, { durability: "strict" });
        const asked = work(step.objectStore("acts"));
        step.oncomplete = () => done(asked.result);
        step.onabort = step.onerror = () => failed(step.error);
      });
    } catch (error) {
      if (!again) throw error;
      database = null; // closed under us: open anew, and write back what is known, under its ids
      for (const one of memory.values()) await within("readwrite", (acts) => acts.put(one), false);
      return within(mode, work, false);
    }
  }

  async function keep(act) {
    act.n = await within("readwrite", (acts) => acts.put(act));
    memory.set(act.n, act);
    tell();
    return act;
  }
  async function drop(act) {
    await within("readwrite", (acts) => acts.delete(act.n));
    memory.delete(act.n);
    tell();
  }
  async function all() {
    const found = await within("readonly", (acts) => acts.getAll());
    found.forEach((one) => memory.set(one.n, one));
    return found;
  }
  const tabs = "BroadcastChannel" in self ? new BroadcastChannel("buildlog") : null;
  const tell = () => tabs && tabs.postMessage("acts");

  // taps

  async function taken(form, button) {
    const what = form.dataset.what || "";
    const given = new FormData(form, button);
    const fields = [], files = [];
    for (const [name, value] of given) {
      if (value instanceof File) {
        if (value.size) files.push([name, value.name, ...(await smaller(value))]);
      } else if (name !== "token" && name !== "act" && name !== "old") fields.push([name, value]);
    }
    const held = (await all()).filter((one) => what && one.what === what && one.url === form.action);
    const last = held[held.length - 1];
    const said = JSON.stringify(fields);
    if (what && !files.length && (last ? last.said === said : form.dataset.said === said)) return null;
    const id = what ? fresh() : given.get("act") || fresh();
    if (held.some((one) => one.id === id)) return null;
    const place = form.querySelector('input[name="old"]'); // as it is now: an answer may have come
    const old = last ? `after:${last.id}` : place ? place.value : "";
    return { id, url: form.action, what, old, fields, files, said, at: Date.now(), state: "waiting" };
  }

  async function smaller(file) {
    const plain = async (one, kind) => [kind, await one.arrayBuffer()];
    if (!/^image\/(jpeg|png)$/.test(file.type) || file.size < 1e6) return plain(file, file.type);
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, WIDEST / Math.max(picture.width, picture.height));
      const paper = make("canvas");
      paper.width = Math.round(picture.width * scale);
      paper.height = Math.round(picture.height * scale);
      paper.getContext("2d").drawImage(picture, 0, 0, paper.width, paper.height);
      const made = await new Promise((done) => paper.toBlob(done, "image/jpeg", 0.85));
      return made && made.size < file.size ? plain(made, "image/jpeg") : plain(file, file.type);
    } catch {
      return plain(file, file.type);
    }
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.method !== "post" || !(form.dataset.what || form.dataset.queue)) return;
    event.preventDefault();
    const act = await taken(form, event.submitter);
    if (!act) return;
    try {
      await keep(act);
    } catch {
      form.submit(); // nothing can be stored here: as a form
      return;
    }
    if (!form.dataset.queue) mark(form, act, "only in this phone");
    else form.dataset.sent = act.id;
    draw();
    send();
  });

  function mark(form, act, said) {
    const answer = act.fields.find(([name]) => name === "answer");
    form.dataset.said = act.said;
    if (answer && answer[1] !== "value") {
      for (const one of form.querySelectorAll('button[name="answer"][aria-pressed]')) {
        one.setAttribute("aria-pressed", String(one.value === answer[1]));
      }
    }
    let line = form.querySelector("p.saved");
    if (!line) line = form.appendChild(make("p", "", "soft saved"));
    line.textContent = said;
    form.classList.toggle("wait", said === "only in this phone");
  }

  const formOf = (act) => [...document.querySelectorAll("form[data-what]")].find((one) => one.dataset.what === act.what && one.action === act.url);

  // sending

  async function send() {
    if (sending || locked) return;
    sending = true;
    clearTimeout(trying);
    try {
      for (;;) {
        const acts = await all();
        const act = acts.find((one) => one.state === "waiting" && !acts.some((other) => other.state === "aside" && other.n < one.n && rests(one, other)));
        if (!act) break;
        if (!(await sent(act))) break;
        tries = 0;
      }
    } finally {
      sending = false;
      draw();
    }
  }

  const rests = (one, other) => one.what && one.what === other.what && one.url === other.url;

  async function sent(act) {
    const body = new FormData();
    for (const [name, value] of act.fields) body.append(name, value);
    for (const [name, file, type, bytes] of act.files) body.append(name, new Blob([bytes], { type }), file);
    body.append("token", token());
    body.append("act", act.id);
    body.append("old", act.old);
    let answer, told;
    try {
      answer = await fetch(act.url, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "error", signal: AbortSignal.timeout ? AbortSignal.timeout(120e3) : undefined });
      told = (answer.headers.get("content-type") || "").startsWith("application/json") ? await answer.json() : {};
    } catch {
      return later();
    }
    if (answer.status === 401 || answer.status === 403) {
      locked = true;
      return false;
    }
    if (answer.status === 429 || answer.status >= 500) return later();
    if (answer.ok && told.done) {
      rest(act); // before it leaves the store: a tap in between rests on the one or the other
      await drop(act);
      saved(act, told);
    } else {
      act.state = "aside";
      act.why = told.said || `refused (${answer.status})`;
      act.hint = told.hint || "";
      act.now = told.question ? told.question.now : null;
      await keep(act);
    }
    return true;
  }

  function later() {
    trying = setTimeout(send, PAUSES[Math.min(tries++, PAUSES.length - 1)] * 1000);
    return false;
  }

  function rest(act) {
    const form = act.what ? formOf(act) : null;
    const old = form && form.querySelector('input[name="old"]');
    if (old) old.value = `after:${act.id}`;
  }

  function saved(act, told) {
    if (told.digest) Object.assign(document.body.dataset, { head: told.head, digest: told.digest });
    const form = act.what ? formOf(act) : null;
    if (form && !form.dataset.queue) {
      // a later tap on the same is what one sees, until it has its own answer
      if (![...memory.values()].some((one) => rests(one, act))) mark(form, act, `${told.said}, ${clock()}`);
    }
    status.dataset.last = `saved ${clock()}`;
    const page = document.querySelector(`form[data-sent="${act.id}"]`);
    if (page) location.assign((act.fields.find(([name]) => name === "back") || [])[1] || location.pathname);
  }

  // what one sees

  async function draw() {
    const acts = await all();
    const waiting = acts.filter((one) => one.state === "waiting"), aside = acts.filter((one) => one.state === "aside");
    for (const one of waiting) {
      const form = one.what ? formOf(one) : null;
      if (form && !form.dataset.queue) mark(form, one, "only in this phone");
    }
    if (status) {
      const counted = waiting.length ? `${waiting.length} only in this phone` : "";
      const asked = aside.length ? `${aside.length} question${aside.length > 1 ? "s" : ""}` : "";
      const plain = [counted, asked].filter(Boolean).join(", ") || status.dataset.last || "";
      if (locked) status.textContent = `${person}pair again`;
      else if (sending && waiting.length) status.textContent = `${person}saving`;
      else if (plain) status.textContent = person + plain;
    }
    drawAside(waiting, aside);
  }

  function drawAside(waiting, aside) {
    const before = document.getElementById("waiting-acts");
    if (before) before.remove();
    if (!waiting.length && !aside.length) return;
    const place = make("section");
    place.id = "waiting-acts";
    if (waiting.length && (tries || locked)) {
      const some = waiting.length === 1 ? "One act is" : `${waiting.length} acts are`;
      place.append(make("p", `${some} only in this phone. Leave this page open.`, "look wait"));
    }
    for (const one of aside) place.append(question(one));
    if (aside.length || tries || locked) {
      const old = Math.min(...[...waiting, ...aside].map((one) => one.at)) < Date.now() - DAY;
      const button = make("button", "Save waiting acts to a file", old ? "" : "quiet");
      button.type = "button";
      button.addEventListener("click", () => rescue([...waiting, ...aside]));
      place.append(button);
    }
    const sheet = document.getElementById("sheet");
    if (!place.childNodes.length || !sheet) return;
    sheet.append(place); // below all else: nothing moves under a thumb; the head leads there
    const link = make("a", status.textContent.slice(person.length));
    link.href = "#waiting-acts";
    status.replaceChildren(person, link);
  }

  function question(act) {
    const row = make("div", "", "look");
    const typed = act.fields.filter(([name, value]) => value && !["what", "back"].includes(name)).map(([, value]) => value).join(", ");
    row.append(make("p", `${act.what || act.url.split("/").pop()}: ${typed}`), make("p", [act.why, act.hint].filter(Boolean).join(". "), "soft"));
    const choose = (text, work) => {
      const button = make("button", text, "quiet");
      button.type = "button";
      button.addEventListener("click", work);
      row.append(button);
    };
    if (act.now !== null && act.now !== undefined) {
      choose("Write mine", async () => {
        await keep({ ...act, id: fresh(), old: act.now, state: "waiting", why: "", now: null });
        send();
      });
    }
    choose("Leave it as it is", async () => {
      await drop(act);
      send();
    });
    return row;
  }

  function rescue(acts) {
    const text = (bytes) => btoa(Array.from(new Uint8Array(bytes), (one) => String.fromCharCode(one)).join(""));
    const told = acts.map((one) => ({ ...one, files: one.files.map(([name, file, type, bytes]) => ({ name, file, type, base64: text(bytes) })) }));
    const link = make("a");
    link.href = URL.createObjectURL(new Blob([JSON.stringify({ origin: location.origin, acts: told }, null, 1)], { type: "application/json" }));
    link.download = `waiting-acts-${new Date().toISOString().slice(0, 10)}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60e3);
  }

  // "Record 4" counts what is ticked

  document.addEventListener("change", (event) => {
    const button = event.target.form && document.querySelector(`button[data-counts="${event.target.name}"]`);
    if (!button || button.form !== event.target.form) return;
    const ticked = button.form.querySelectorAll(`input[name="${event.target.name}"]:checked`).length;
    button.textContent = button.textContent.replace(/\d+$/, ticked);
  });

  // another changed the car: a page on which nothing can be tapped or typed is drawn anew; any other
  // is left under the thumb as it is, and says so

  async function look() {
    if (document.body.dataset.again && !document.hidden && !document.activeElement.value) location.reload();
    const car = location.pathname.match(/^\/car\/[^/]+\//);
    if (!car || document.hidden || !document.body.dataset.digest) return;
    if (sending || (await all()).length) return;
    try {
      const now = await (await fetch(`${car[0]}state`)).json();
      const own = document.body.dataset;
      if (!now.digest || (now.digest === own.digest && now.head === own.head)) return;
      if (!document.querySelector('form[method="post"]')) location.reload();
      else if (status && !status.querySelector("a")) {
        const link = make("a", "changed elsewhere, load again");
        link.href = location.href;
        status.replaceChildren(person, link);
      }
    } catch { /* the server is away: nothing is new */ }
  }

  if (tabs) tabs.onmessage = () => draw();
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.hidden || send());
  setInterval(look, document.body.dataset.again ? 3e3 : 20e3);
  all().then((acts) => (acts.length ? send() : draw()), () => {});
})();
