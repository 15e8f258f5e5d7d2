const {words, waits, round, cards, questions} = JSON.parse(document.getElementById("data").textContent);
const at = id => document.getElementById(id);
const say = (key, values) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
function make(tag, text, attributes = {}) {
  const made = document.createElement(tag);
  made.textContent = text;
  for (const name in attributes) made.setAttribute(name, attributes[name]);
  return made;
}

// When a question comes back. What is known of it is [box, day of the last answer].
const dayNow = () => Math.floor(Date.parse(today()) / 864e5);
// After as many days as its box waits; at once where its day is yet to come: the clock was put back.
const isDue = ([box, day], now) => day > now || now - day >= waits[box - 1];
const moved = (box, right) => right ? Math.min(box + 1, waits.length) : 1;
function toAsk(known, now) {
  const due = questions.filter(q => known[q.id] && isDue(known[q.id], now));
  due.sort((a, b) => known[a.id][0] - known[b.id][0] || known[a.id][1] - known[b.id][1]);
  return [...due, ...questions.filter(q => !known[q.id])];
}

// What this phone keeps of this page: read before every change, since two tabs may have it open.
const KEY = "practice " + location.pathname.replace(/index\.html$/, "");
let kept = {}, keeps = true;
function load() {
  if (!keeps) return kept;
  try {
    kept = {};
    const read = JSON.parse(localStorage.getItem(KEY)) || {};
    for (const {id} of questions) {
      const [box, day] = Array.isArray(read[id]) ? read[id] : [];
      if (Number.isInteger(day) && waits[box - 1] >= 0) kept[id] = [box, day];
    }
  } catch (wrong) {
    if (!(wrong instanceof SyntaxError)) keeps = false;
  }
  return kept;
}
function save(id, box) {
  kept = load();
  if (id) kept[id] = [box, dayNow()];
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
  } catch {
    keeps = false;
  }
  at("forgets").hidden = keeps;
  waits.forEach((_, n) => {
    at("box" + (n + 1)).textContent = Object.values(kept).filter(([box]) => box === n + 1).length;
  });
  at("box0").textContent = questions.length - Object.keys(kept).length;
}

// "1½", "1 1/2", "1.5" and "1,5" are the same number.
function numberOf(text) {
  const plain = text.replace(/[٠-٩۰-۹๐-๙]/g, c => c.charCodeAt(0) & 15)  // digits, Arabic and Thai
    .replace(/[¼-¾⅐-⅞]/g, c => " " + c.normalize("NFKC")).replace(/⁄/g, "/").replace(/[,٫]/, ".");
  const [, whole, over, under] = plain.trim().match(/^(\d*\.?\d+)??\s*(?:(\d+)\/(\d+))?$/) || [];
  return whole || over ? Number(whole || 0) + (over ? over / under : 0) : NaN;
}
function isSame(text, right) {
  if (typeof right === "string") return text === right;  // a time of day
  const plain = text.replace(/[\s.,'’]/g, "");  // "1,000"
  return Math.abs(numberOf(text) - right) < 0.0051 || right >= 1000 && Number(plain) === right;
}

// Each form fills the box and gives what judges: whether something was answered, whether it is
// right, and the lines of the right answer.
function fill(box, rows) {
  const inputs = rows.map(([label, unit, value], n) => {
    const line = box.appendChild(make("p", "", {class: "gap"}));
    line.append(make("label", label, {id: "name" + n, for: "gap" + n}));
    if (value === null) return null;
    const type = typeof value === "string" ? "time" : "text";
    const input = make("input", "", {id: "gap" + n, type, inputmode: "decimal", autocomplete: "off",
      "aria-labelledby": `name${n} unit${n}`});
    line.append(input, make("span", unit, {id: "unit" + n}));
    return input;
  });
  const gaps = inputs.filter(Boolean);
  box.onkeydown = event => {
    if (event.key !== "Enter") return;
    const next = gaps[gaps.indexOf(event.target) + 1];
    next ? next.focus() : check();
  };
  return () => {
    const good = rows.map(([, , value], n) => !inputs[n] || isSame(inputs[n].value.trim(), value));
    const lines = rows.flatMap(([label, , , printed], n) => !inputs[n] ? [] : [
      (label ? label + ": " : "") + printed
      + (good[n] ? "" : " · " + say("you", {answer: inputs[n].value.trim() || "–"}))]);
    return {given: gaps.some(input => input.value.trim()), right: good.every(Boolean), lines};
  };
}
function arrange(box, {texts, places}) {
  const list = box.appendChild(make("ol", "", {class: "order"}));
  let given = false;
  const ends = () => [...list.children].forEach(row => {
    row.children[1].setAttribute("aria-disabled", !row.previousElementSibling);
    row.children[2].setAttribute("aria-disabled", !row.nextElementSibling);
  });
  texts.forEach((text, n) => {
    const row = list.appendChild(make("li", "", {"data-place": places[n]}));
    row.append(make("span", text));
    for (const [way, sign] of [["up", "↑"], ["down", "↓"]]) {
      const button = row.appendChild(make("button", sign, {type: "button", "aria-label": say(way, {text})}));
      button.onclick = () => {
        const other = way === "up" ? row.previousElementSibling : row.nextElementSibling;
        if (other) way === "up" ? other.before(row) : other.after(row);
        given = true;
        ends();
        button.focus();
        const place = [...list.children].indexOf(row) + 1;
        at("verdict").textContent = say("place", {text, place, places: texts.length});
      };
    }
  });
  ends();
  return () => ({
    given,
    right: [...list.children].every((row, n) => row.dataset.place == n + 1),
    lines: places.map((_, n) => `${n + 1} · ${texts[places.indexOf(n + 1)]}`),
  });
}
function choose(box, {options, right, several}) {
  const inputs = options.map(text => {
    const label = box.appendChild(make("label", "", {class: "option"}));
    const input = make("input", "", {type: several ? "checkbox" : "radio", name: "option"});
    label.append(input, make("span", text));
    return input;
  });
  return () => ({
    given: inputs.some(input => input.checked),
    right: inputs.every((input, n) => input.checked === right.includes(n)),
    lines: right.map(n => options[n]),
  });
}

let queue = [], asked = 0, missed = new Set(), judge, warned;
function begin() {
  queue = toAsk(load(), dayNow()).slice(0, round);
  asked = queue.length;
  missed = new Set();
}
function next(focus) {
  const [q] = queue;
  at("asked").hidden = !q;
  at("done").hidden = Boolean(q);
  if (!q) return done(focus);
  const [box] = load()[q.id] || [1];
  at("round").textContent = say("round", {known: asked - new Set(queue).size, asked, box});
  for (const part of ["title", "order", "caution"]) {
    at(part).textContent = q[part] || "";
    at(part).hidden = !q[part];
  }
  const form = at("form");
  form.replaceChildren(make("legend", q.ask));
  form.onkeydown = null;
  form.disabled = warned = false;
  judge = q.fill ? fill(form, q.fill) : q.arrange ? arrange(form, q.arrange) : choose(form, q.choose);
  at("verdict").textContent = "";
  at("check").hidden = false;
  at("result").hidden = true;
  if (focus) at("title").focus();
}
function check() {
  const [q] = queue, {given, right, lines} = judge();
  if (!given && !warned) {
    warned = true;
    at("verdict").textContent = words.nothing_given;
    return;
  }
  const [box] = load()[q.id] || [1];
  save(q.id, moved(box, right));
  queue.shift();
  if (!right) {
    missed.add(q);
    queue.push(q);  // again in this round
  }
  at("form").disabled = true;
  at("check").hidden = true;
  at("verdict").textContent = words[right ? "right" : "wrong"];
  at("answer").replaceChildren(...lines.map(line => make("li", line)));
  at("why").textContent = q.why;
  at("warning").textContent = q.caution || "";
  at("look").replaceChildren(...q.cards.map(n => {
    const [label, code, href] = cards[n], link = make("a", label + " ", {href});
    link.append(make("span", code, {class: "code"}));
    return link;
  }));
  at("result").hidden = false;
  at("verdict").focus();
}
function done(focus) {
  const now = dayNow(), more = toAsk(load(), now).length > 0;
  at("score").hidden = !asked;
  at("score").textContent = say("score", {right: asked - missed.size, asked});
  at("more").hidden = !more;
  at("nothing").hidden = more;
  if (!more) {
    const days = Object.values(kept).map(([box, day]) => day + waits[box - 1]);
    const day = new Date(Math.min(...days) * 864e5);
    at("nothing").textContent = say("nothing", {
      day: day.toLocaleDateString(document.documentElement.lang, {timeZone: "UTC", dateStyle: "medium"}),
    });
  }
  if (focus) at("done-title").focus();
}
at("check").onclick = check;
at("next").onclick = () => next(true);
at("more").onclick = () => { begin(); next(true); };
at("forget").onclick = () => {
  if (keeps) try { localStorage.removeItem(KEY); } catch { keeps = false; }
  kept = {};
  save();
  begin();
  next(true);
};
save();  // what the menu asks no more is forgotten
begin();
next(false);
keepCopies("../../");
