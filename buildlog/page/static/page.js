// What HTML cannot do: acts that wait in this phone until the server has them. Without this script
// every form works as a form. An act is stored before it is drawn, sent in order, always under the
// same id; the server answers one id in one way for ever, so that a tab may send it again, and two
// tabs may both. What is asked about or refused steps aside, and only what rests on it waits.
"use strict";
(() => {
  const PAUSES = [1, 2, 4, 8, 15]; // seconds between tries
  const DAY = 86400e3;
  const WIDEST = 2048; // pixels of a photo that is sent
  const MANY = 400; // places whose last act is remembered
  const OWN = ["token", "act", "old"]; // of the form, not of what is said
  const gone = new Set(); // ids of acts that are answered, or given up
  const memory = new Map(); // of what is stored: a phone may throw its store away
  const status = document.getElementById("saved");
  const person = status && status.textContent.includes(" · ") ? status.textContent.split(" · ")[0] + " · " : "";
  const before = status ? status.textContent.slice(person.length) : "";
  let turn = Promise.resolve(), database = null, trying = null, tries = 0, sending = false, locked = false;

  const fresh = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
  const make = (name, text, kind) => Object.assign(document.createElement(name), { textContent: text || "", className: kind || "" });
  const token = () => (document.querySelector('input[name="token"]') || {}).value || "";
  const clock = () => new Date().toTimeString().slice(0, 5);

  // the store: "acts" not yet answered, and by place the "last" act of this browser that was done there

  const place = (act) => `${act.url} ${act.what}`;
  const rests = (one, other) => one.what && place(one) === place(other);

  function open() {
    database = database || new Promise((done, failed) => {
      const asked = indexedDB.open("buildlog", 2);
      asked.onupgradeneeded = () => {
        const held = asked.result;
        if (!held.objectStoreNames.contains("acts")) held.createObjectStore("acts", { keyPath: "n", autoIncrement: true });
        held.createObjectStore("last", { keyPath: "place" });
      };
      asked.onerror = () => failed(asked.error);
      asked.onsuccess = () => {
        asked.result.onclose = () => { database = null; };
        asked.result.onversionchange = () => asked.result.close();
        writeBack(asked.result).then(() => done(asked.result), failed);
      };
    });
    database.catch(() => { database = null; });
    return database;
  }

  const once = (held, mode, work) => new Promise((done, failed) => {
    const step = held.transaction(["acts", "last"], mode, { durability: "strict" });
    const asked = work(step.objectStore("acts"), step.objectStore("last"));
    step.oncomplete = () => done(asked && asked.result);
    step.onabort = step.onerror = () => failed(step.error);
  });

  // a phone may throw its store away under us: what is known is written back, under its ids
  const writeBack = (held) => once(held, "readwrite", (acts) => memory.forEach((one) => {
    acts.get(one.n).onsuccess = (told) => told.target.result || acts.put(one);
  }));

  async function within(mode, work) {
    try {
      return await once(await open(), mode, work);
    } catch {
      database = null; // closed under us
      return once(await open(), mode, work);
    }
  }

  // what another tab has dropped may still be in what was read before it did
  async function all() {
    const found = (await within("readonly", (acts) => acts.getAll())).filter((one) => !gone.has(one.id));
    found.forEach((one) => memory.set(one.n, one));
    return found;
  }

  // stores an act behind those that are not answered; null where it says what was said last
  async function keep(act, shown) {
    const kept = await within("readwrite", (acts, last) => {
      const box = { result: null };
      acts.getAll().onsuccess = (told) => {
        const held = told.target.result, before = held.filter((one) => rests(one, act)).pop();
        if (act.what && !act.files.length && (before ? before.said : shown) === act.said) return;
        if (held.some((one) => one.id === act.id)) return;
        last.get(place(act)).onsuccess = (mine) => {
          if (before) act.old = `after:${before.id}`;
          else if (act.what && mine.target.result) act.rests = mine.target.result.id;
          acts.put(act).onsuccess = (number) => { box.result = { ...act, n: number.target.result }; };
        };
      };
      return box;
    });
    if (kept) memory.set(kept.n, kept);
    tell();
    return kept;
  }

  // changes acts that are still stored: another tab may have had the same answer, and gone on
  async function change(...changed) {
    await within("readwrite", (acts) => changed.forEach((act) => {
      acts.get(act.n).onsuccess = (told) => told.target.result && acts.put(act);
    }));
    changed.forEach((act) => memory.set(act.n, act));
    tell();
  }

  // out of the store; where it was done, the next act on its place says so, whatever page it is on
  async function drop(acts, isDone = false) {
    await within("readwrite", (stored, last) => acts.forEach((act) => {
      stored.delete(act.n);
      if (!isDone || !act.what) return;
      last.get(place(act)).onsuccess = (told) => {
        const newer = told.target.result && told.target.result.n > act.n; // a late answer in another tab
        if (!newer) last.put({ place: place(act), id: act.id, n: act.n });
      };
    }));
    forgotten(acts);
    tell({ gone: acts.map(({ n, id }) => ({ n, id })) });
  }

  const forgotten = (acts) => acts.forEach(({ n, id }) => {
    gone.add(id);
    if (memory.has(n) && memory.get(n).id === id) memory.delete(n);
  });

  // what was last done at far more places than one page has is of no use to any page
  const forget = () => within("readwrite", (_, last) => {
    last.getAll().onsuccess = (told) => told.target.result.sort((a, b) => b.n - a.n).slice(MANY).forEach((one) => last.delete(one.place));
  });

  const tabs = "BroadcastChannel" in self ? new BroadcastChannel("buildlog") : null;
  const tell = (what) => tabs && tabs.postMessage(what || {});

  // taps, one after the other: the second of two quick ones rests on the first

  function taken(form, button) {
    const what = form.dataset.what || "", given = new FormData(form, button);
    const held = form.querySelector('input[name="old"]');
    const act = { id: what ? fresh() : given.get("act") || fresh(), url: form.action, what, old: held ? held.value : "",
      fields: [], files: [], at: Date.now(), state: "waiting" };
    const files = [];
    for (const [name, value] of given) {
      if (!(value instanceof File)) OWN.includes(name) || act.fields.push([name, value]);
      else if (value.size) files.push([name, value]);
    }
    act.said = JSON.stringify(act.fields);
    const before = turn;
    turn = (async () => {
      await before.catch(() => {});
      for (const [name, file] of files) act.files.push([name, file.name, ...(await smaller(file))]);
      return keep(act, form.dataset.said);
    })();
    return turn;
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
    let act;
    try {
      act = await taken(form, event.submitter);
    } catch {
      form.submit(); // nothing can be stored here: as a form
      return;
    }
    if (!act) return;
    if (!form.dataset.queue) mark(form, act, "only in this phone");
    else form.dataset.sent = act.id;
    draw();
    send();
  });

  function mark(form, act, said) {
    const answer = act.fields.find(([name]) => name === "answer");
    form.dataset.said = act.said;
    const error = form.querySelector("p.refused");
    if (error) error.remove();
    if (form.dataset.was === undefined) form.dataset.was = (form.querySelector('[aria-pressed="true"]') || {}).value || "";
    if (answer && answer[1] !== "value") {
      for (const one of form.querySelectorAll('button[name="answer"][aria-pressed]')) {
        one.setAttribute("aria-pressed", String(one.value === answer[1]));
      }
      asFault(form, answer[1] === "fault");
    }
    let line = form.querySelector("p.saved");
    if (!line) {
      line = make("p", "", "soft saved");
      const strip = form.querySelector(".answers");
      if (strip) strip.after(line);
      else form.append(line);
    }
    line.textContent = said;
    form.classList.toggle("wait", said === "only in this phone");
  }

  // what a fault means is said below it, and its note and photo are asked for
  function asFault(form, is) {
    const holds = form.querySelector("p.holds"), asked = form.querySelector("details");
    if (holds) holds.hidden = !is;
    if (is && asked) asked.open = true;
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

  async function sent(act) {
    const body = new FormData();
    for (const [name, value] of act.fields) body.append(name, value);
    for (const [name, file, type, bytes] of act.files) body.append(name, new Blob([bytes], { type }), file);
    body.append("token", token());
    body.append("act", act.id);
    body.append("old", act.old);
    if (act.rests) body.append("rests", act.rests);
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
      const toldElsewhere = told.again && gone.has(act.id); // by the tab whose sending did it
      await drop([act], true);
      if (!toldElsewhere) saved(act, told);
    } else if (told.word === "refused" && stands(act) && ![...memory.values()].some((one) => one.n > act.n && rests(one, act))) {
      refused(stands(act), told); // what was typed is still there: it is said where it was typed
      await drop([act]);
    } else {
      const why = told.said || `refused (${answer.status})`;
      await change({ ...act, state: "aside", why, hint: told.hint || "", now: told.question ? told.question.now : null });
    }
    return true;
  }

  // the form that still shows what an act says
  function stands(act) {
    const sheet = document.querySelector(`form[data-sent="${act.id}"]`), item = act.what ? formOf(act) : null;
    const shown = item && new FormData(item);
    return sheet || (item && act.fields.every(([name, value]) => name === "answer" || shown.getAll(name).includes(value)) ? item : null);
  }

  function refused(form, told) {
    const said = [told.said, told.hint].filter(Boolean).map((one) => one[0].toUpperCase() + one.slice(1)).join(". ");
    let line = form.querySelector("p.refused");
    if (!line) {
      line = make("p", "", "look refused");
      line.setAttribute("role", "alert");
      form.prepend(line);
    }
    line.textContent = said;
    for (const one of form.querySelectorAll('button[name="answer"][aria-pressed]')) one.setAttribute("aria-pressed", String(one.value === form.dataset.was));
    asFault(form, form.dataset.was === "fault");
    form.classList.remove("wait");
    const saying = form.querySelector("p.saved");
    if (saying) saying.remove();
    const id = form.querySelector('input[name="act"]');
    if (id) id.value = fresh();
    delete form.dataset.sent;
    delete form.dataset.said;
    line.scrollIntoView({ block: "nearest" });
  }

  function later() {
    trying = setTimeout(send, PAUSES[Math.min(tries++, PAUSES.length - 1)] * 1000);
    return false;
  }

  // here, and in the other tabs of this browser
  function saved(act, told, elsewhere = false) {
    if (told.digest) Object.assign(document.body.dataset, { head: told.head, digest: told.digest });
    if (!elsewhere) tell({ done: { ...act, files: [] }, said: told.said });
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
      else if (plain || !status.dataset.changed) status.textContent = person + (plain || before);
    }
    drawAside(waiting, aside);
  }

  function drawAside(waiting, aside) {
    const before = document.getElementById("waiting-acts");
    if (before) before.remove();
    if (!waiting.length && !aside.length) return;
    const section = make("section");
    section.id = "waiting-acts";
    if (waiting.length && (tries || locked)) {
      const some = waiting.length === 1 ? "One act is" : `${waiting.length} acts are`;
      section.append(make("p", `${some} only in this phone. Leave this page open.`, "look wait"));
    }
    for (const one of aside) section.append(question(one, waiting.filter((other) => other.n > one.n && rests(other, one))));
    if (aside.length || tries || locked) {
      const old = Math.min(...[...waiting, ...aside].map((one) => one.at)) < Date.now() - DAY;
      const button = make("button", "Save waiting acts to a file", old ? "" : "quiet");
      button.type = "button";
      button.addEventListener("click", () => rescue([...waiting, ...aside]));
      section.append(button);
    }
    const sheet = document.getElementById("sheet");
    if (!section.childNodes.length || !sheet) return;
    sheet.append(section); // below all else: nothing moves under a thumb; the head leads there
    const link = make("a", status.textContent.slice(person.length));
    link.href = "#waiting-acts";
    status.replaceChildren(person, link);
  }

  const typed = (act) => act.fields.filter(([name, value]) => value && !["what", "back", "here"].includes(name)).map(([, value]) => value).join(", ");

  function question(act, later) {
    const row = make("div", "", "look"), asked = act.now !== null && act.now !== undefined;
    row.append(make("p", `${act.what || act.url.split("/").pop()}: ${[act, ...later].map(typed).join(", then ")}`));
    row.append(make("p", [act.why, act.hint].filter(Boolean).join(". "), "soft"));
    const choose = (text, work) => {
      const button = make("button", text, "quiet");
      button.type = "button";
      button.addEventListener("click", () => work().then(send));
      row.append(button);
    };
    const onto = (old) => later.slice(0, 1).map((one) => ({ ...one, old })); // never sent: may rest on another
    if (asked) {
      choose("Write mine", () => {
        const mine = { ...act, id: fresh(), old: act.now, rests: "", state: "waiting", why: "", now: null };
        return change(mine, ...onto(`after:${mine.id}`));
      });
    }
    choose("Leave it as it is", async () => {
      if (!asked) await change(...onto(act.old)); // what was refused left nothing
      await drop(asked ? [act, ...later] : [act]);
      if (asked || !later.length) left(act);
    });
    return row;
  }

  // the form says what is there now, as far as this page knows it
  function left(act) {
    const form = act.what ? formOf(act) : null;
    if (!form || form.dataset.queue) return;
    mark(form, { said: "", fields: [["answer", ""]] }, "left as it is");
    const held = form.querySelector('input[name="old"]');
    if (held && act.now) held.value = act.now;
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

  // a photo that was chosen is named: its field is not seen

  document.addEventListener("change", ({ target }) => {
    const group = target.type === "file" && target.closest(".photos");
    if (!group) return;
    let line = group.nextElementSibling;
    if (!line || !line.classList.contains("chosen")) {
      line = make("p", "", "soft chosen");
      line.setAttribute("role", "status");
      group.after(line);
    }
    const files = [...group.querySelectorAll("input")].flatMap((one) => [...one.files]);
    line.textContent = files.length ? `Goes with it: ${files.map((one) => one.name).join(", ")}` : "";
  });

  // "Record 4" counts what is ticked

  document.addEventListener("change", (event) => {
    const button = event.target.form && document.querySelector(`button[data-counts="${event.target.name}"]`);
    if (!button || button.form !== event.target.form) return;
    const ticked = button.form.querySelectorAll(`input[name="${event.target.name}"]:checked`).length;
    button.textContent = button.textContent.replace(/\d+$/, ticked);
  });

  // a value outside what is stated is said while it is typed; the desk judges what is saved. A comma
  // before three digits may stand for thousands, and what has a unit of its own is not read here.

  document.addEventListener("input", ({ target }) => {
    const { least, most, below, above } = target.dataset || {};
    if (least === undefined && most === undefined) return;
    const text = target.value.trim(), plain = /^[-+]?\d+([.,]\d+)?$/.test(text) && !/,\d{3}$/.test(text);
    const value = plain ? Number(text.replace(",", ".")) : NaN;
    const said = value < Number(least ?? NaN) ? below : value > Number(most ?? NaN) ? above : "";
    const row = target.closest(".put");
    let line = row.nextElementSibling;
    if (!line || !line.classList.contains("at-once")) {
      line = make("p", "", "look at-once");
      line.setAttribute("role", "status");
      row.after(line);
    }
    line.hidden = !said;
    line.textContent = said ? `${text}: ${said}` : "";
  });

  // over https a worker keeps what was visited; a page that it shows in the server's place can be
  // read, and acts that wait can be tapped, but nothing that has to be answered at once

  const keptAt = document.body.dataset.keptAt;
  if (location.protocol === "https:" && navigator.serviceWorker) {
    navigator.serviceWorker.register("/worker.js").then(() => navigator.serviceWorker.ready).then((worker) => {
      if (!navigator.serviceWorker.controller) worker.active.postMessage({ keep: location.href });
    }, () => {});
  }
  if (keptAt && status) {
    const at = new Date(keptAt), today = at.toDateString() === new Date().toDateString();
    status.dataset.last = `the server is away, as of ${today ? at.toTimeString().slice(0, 5) : at.toLocaleDateString("en-US")}`;
    for (const button of document.querySelectorAll('form[method="post"]:not([data-what]):not([data-queue]) button, footer button[form]')) {
      const form = button.form;
      if (form && form.method === "post" && !form.dataset.what && !form.dataset.queue) button.disabled = true;
    }
  }

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
      if (!now.digest || (!keptAt && now.digest === own.digest && now.head === own.head)) return;
      if (!document.querySelector('form[method="post"]')) location.reload();
      else if (status && !status.querySelector("a")) {
        const link = make("a", keptAt ? "the server is back, load again" : "changed elsewhere, load again");
        link.href = location.href;
        status.dataset.changed = "yes";
        status.replaceChildren(person, link);
      }
    } catch { /* the server is away: nothing is new */ }
  }

  if (tabs) {
    tabs.onmessage = ({ data }) => {
      forgotten(data.gone || []);
      if (data.done) saved(data.done, { said: data.said }, true);
      draw();
    };
  }
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.hidden || send());
  setInterval(look, document.body.dataset.again ? 3e3 : 20e3);
  all().then((acts) => (acts.length ? send() : draw())).then(forget).catch(() => {}); // no store: forms are forms
})();
