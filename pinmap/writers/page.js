"use strict";
// The page at the bench: ticks, readings, and what they say. All that is known of the plan comes from the data.
(() => {
  const plan = JSON.parse(document.getElementById("plan").textContent);
  const at = (id) => document.getElementById(id);
  const all = (what) => [...document.querySelectorAll(what)];
  const state = { ticks: {}, readings: {}, again: {}, bench: "" };
  const boxes = all("input[data-tick]"), fields = all("input[data-step]"), seconds = all("input[data-again]");
  const nets = plan.nets, netOf = new Map();
  nets.forEach((net, index) => net.contacts.forEach((contact) => netOf.set(contact, index)));
  const rules = Object.fromEntries(Object.entries(plan.meter.patterns).map(([name, text]) => [name, new RegExp(text, "u")]));

  // ---------------------------------------------------------------- what is kept in this browser

  function load() {
    try {
      const kept = JSON.parse(localStorage.getItem(plan.key) || "{}");
      for (const name of ["ticks", "readings", "again"]) Object.assign(state[name], kept[name]);
      state.bench = kept.bench || "";
    } catch { at("notice").textContent = "What was kept cannot be read here."; }
  }
  function save() {
    try { localStorage.setItem(plan.key, JSON.stringify(state)); }
    catch { at("notice").textContent = "This browser keeps nothing: download the readings before you close the page."; }
  }

  // ---------------------------------------------------------------- what a meter shows; as meter.py reads it

  class Complaint extends Error {}
  const number = (text, like) => {
    const match = rules.number.exec(text.trim());
    if (!match) throw new Complaint(`write what the meter shows, like ${like}`);
    if (rules.thousands.test(match[2])) throw new Complaint("a comma must not be able to mean thousands: write a decimal point");
    const value = Number(match[2].replace(",", "."));
    return [match[1] === "-" ? -value : value, (match[3] || "").trim()];
  };
  function plainly(written) {
    let text = written.trim();
    if ([...text].length > plan.meter.most) throw new Complaint("a reading must be what the meter shows, not so many letters");
    if (plan.meter.judged.includes(text.toLowerCase())) throw new Complaint("write what the meter showed, not what it means");
    for (const [other, plain] of [["\u2212", "-"], ["\u2126", "Ω"], ["μ", "µ"], ["\u00a0", " "], ["\u202f", " "]])
      text = text.split(other).join(plain);
    return text;
  }
  const folding = (text) => text.toLowerCase().split(/\s+/u).filter(Boolean).join(" ");
  function pointed(text) {
    const bare = text.trim();
    if (/^[0-9]*m[0-9]+$/u.test(bare)) throw new Complaint("say whether m is mΩ or MΩ: 4M7 or 4.7 mΩ");
    const match = rules.letter_point.exec(bare);
    if (!match) return bare.replace(/^([0-9]+)\s?[Rr]$/u, "$1 Ω");
    return `${match[1] || "0"}.${match[3]}${"Rr".includes(match[2]) ? "" : match[2]} Ω`;
  }
  function ohms(written) {
    const like = plan.meter.ohms_like, text = plainly(written), folded = folding(text), words = plan.meter;
    if (words.beeps.includes(folded)) return 0;
    if (words.silent.includes(folded) || words.over.includes(folded)) return Infinity;
    if (rules.over.test(folded) && !folded.endsWith("v")) return Infinity;
    if (folded.startsWith(">") && rules.over.test(folded.slice(1).trim())) return Infinity;
    if (rules.lone_one.test(text)) throw new Complaint("a lone 1 is what older meters show for over range: write 1 Ω or OL");
    const bound = /^[<>]/u.test(text) ? text[0] : "";
    const [value, unit] = number(pointed(bound ? text.slice(1) : text), like);
    if (/^[mk]?[VvAa]$/u.test(unit.slice(0, 2).trim())) throw new Complaint(`this must be in ohms, like ${like}`);
    const match = rules.ohm_unit.exec(unit);
    if (!match) throw new Complaint("the unit must be Ω, kΩ or MΩ");
    if (match[1] === "m" && !match[2]) throw new Complaint("say whether m is mΩ or MΩ");
    const read = value * words.ohm_factors[match[1] || ""];
    if (read < words.least) throw new Complaint("a resistance must not be negative: there is a voltage, power off");
    if (bound === "<" && read > plan.joined_ohms) throw new Complaint(`with < it must be below ${plan.joined_ohms} Ω`);
    return Math.max(read, 0);
  }
  function volts(written) {
    const like = plan.meter.volts_like, text = plainly(written), folded = folding(text);
    if (rules.over.test(folded) || plan.meter.over.includes(folded)) throw new Complaint("over range: take it again in a higher range");
    const [value, unit] = number(text, like);
    if (/ac|~/u.test(unit.toLowerCase())) throw new Complaint("a voltage must be taken as DC");
    if (unit && rules.ohm_unit.test(unit)) throw new Complaint("this must be in volts, not in ohms");
    const match = rules.volt_unit.exec(unit);
    if (unit && !match) throw new Complaint("the unit must be V or mV");
    return value * plan.meter.volt_factors[(match && match[1]) || ""];
  }
  function swept(written, over) {
    if (["none", "nothing"].includes(written.trim().toLowerCase())) return [];
    const labels = plan.labels[over], found = new Set();
    const safe = over.replace(/[^A-Za-z0-9]/gu, "\\$&");
    const bare = written.replace(new RegExp(`(?<!\\S)${safe}(?:\\s*[-–.:/]\\s*|\\s+)`, "giu"), "");
    for (const word of bare.split(/[\s,;]+/u).filter(Boolean)) {
      const alike = labels.filter((label) => label.toLowerCase() === word.toLowerCase());
      const label = labels.includes(word) ? word : alike.length === 1 ? alike[0] : null;
      if (label === null) throw new Complaint(`there is no contact ${word} on ${over}: write the labels that beep, or none`);
      found.add(`${over} ${label}`);
    }
    if (!found.size) throw new Complaint(`write the contacts of ${over} that beep, or none`);
    return [...found];
  }

  // ---------------------------------------------------------------- what the readings say

  const net = (contact) => nets[netOf.get(contact)];
  const bridged = (a, b) => net(a).bridge !== null && net(a).bridge === net(b).bridge;
  const powers = (contact) => net(contact).rail || net(contact).back;
  const harmful = (a, b) => net(a) !== net(b) && (net(a).rail || net(b).rail)
    && ![net(a), net(b)].some((one) => one.unused || one.key);
  function touch(a, b, value) {
    if (net(a) !== net(b) && bridged(a, b)) return powers(a) && powers(b) && value <= plan.joined_ohms ? "joined" : null;
    return value <= plan.joined_ohms ? "joined" : value >= plan.apart_ohms ? "apart" : "doubtful";
  }
  const named = (contact) => `${net(contact).name} (${contact})`;
  const pair = (a, b) => (a < b ? `${a}\n${b}` : `${b}\n${a}`);

  function joints(edges) {
    const links = new Map(), group = new Map();
    for (const contact of netOf.keys()) links.set(contact, new Set());
    for (const edge of edges) if (edge.touch === "joined") { links.get(edge.a).add(edge.b); links.get(edge.b).add(edge.a); }
    for (const contact of netOf.keys()) {
      const todo = group.has(contact) ? [] : [contact];
      while (todo.length) {
        const here = todo.pop();
        if (!group.has(here)) { group.set(here, contact); todo.push(...links.get(here)); }
      }
    }
    return [links, group];
  }
  function path(links, from, to) {
    const came = new Map([[from, null]]), todo = [from];
    for (let here = todo.shift(); here !== undefined; here = todo.shift()) {
      if (here === to) { const out = []; for (let p = to; came.get(p) !== null; p = came.get(p)) out.push([came.get(p), p]); return out; }
      for (const there of links.get(here)) if (!came.has(there)) { came.set(there, here); todo.push(there); }
    }
    return [];
  }

  function read(row) {
    const written = (state.readings[row.step] || "").trim(), out = { written, edges: [] };
    if (!written) return out;
    try {
      if (row.kind === "volts") out.volts = volts(written);
      else if (row.kind === "sweep") {
        const found = new Set(swept(written, row.over));
        const others = new Set([...plan.there[row.over], ...[...found].filter((p) => net(p).key)]);
        for (const other of others) if (other !== row.start) {
          const how = touch(row.start, other, found.has(other) ? 0 : Infinity);
          if (how) out.edges.push({ a: row.start, b: other, touch: how, sweep: true });
        }
      } else {
        const how = touch(row.start, row.stop, ohms(written));
        if (how) out.edges.push({ a: row.start, b: row.stop, touch: how, sweep: false });
      }
    } catch (error) {
      if (!(error instanceof Complaint)) throw error;
      out.complaint = error.message;
    }
    return out;
  }

  function said(row, taken) { // one reading by itself
    if (taken.complaint) return ["not read", `not understood: ${taken.complaint}`];
    if (!taken.written) return ["", ""];
    if (row.kind === "volts") {
      if (row.low === null) return ["unknown", "the map does not say its volts"];
      const within = taken.volts >= row.low - 1e-9 && taken.volts <= row.high + 1e-9;
      return within ? ["right", "right"] : ["danger", `wrong: do not apply power; it must read ${row.expected}`];
    }
    const bad = taken.edges.filter((edge) => edge.touch !== (net(edge.a) === net(edge.b) ? "joined" : "apart"));
    if (!bad.length) return ["right", "right"];
    const words = bad.slice(0, 4).map((edge) => {
      if (edge.touch === "doubtful") return net(edge.a) === net(edge.b) ? `${edge.b}: neither joined nor open` : `${edge.b}: not clear of ${net(edge.b).name}`;
      return edge.touch === "apart" ? `${edge.b}: open` : `${edge.b}: joined to ${net(edge.b).name}`;
    });
    const more = bad.length > 4 ? `; and ${bad.length - 4} more` : "";
    const power = bad.some((edge) => (edge.touch !== "apart" && harmful(edge.a, edge.b)) || (net(edge.a) === net(edge.b) && net(edge.a).rail));
    return power ? ["danger", `wrong: do not apply power; ${words.join("; ")}${more}`] : ["wrong", `wrong: ${words.join("; ")}${more}`];
  }

  function judge() {
    const taken = plan.rows.map(read);
    let edges = taken.flatMap((one) => one.edges);
    let [links, group] = joints(edges);
    const dangers = [], wrong = new Set(), aside = new Set();
    let contradictions = 0;
    for (const edge of edges) if (edge.touch !== "joined" && group.get(edge.a) === group.get(edge.b)) {
      contradictions += 1;
      aside.add(pair(edge.a, edge.b));
      for (const [a, b] of path(links, edge.a, edge.b)) {
        aside.add(pair(a, b));
        const [one, other] = a < b ? [a, b] : [b, a];
        if (harmful(a, b)) dangers.push(`${named(one)} may be joined to ${named(other)}: readings contradict each other`);
      }
    }
    if (contradictions) { edges = edges.filter((edge) => !aside.has(pair(edge.a, edge.b))); [links, group] = joints(edges); }
    const separate = new Set(), metered = new Set(), doubtful = new Set();
    for (const edge of edges) {
      const both = pair(group.get(edge.a), group.get(edge.b));
      if (edge.touch === "apart") { separate.add(both); if (!edge.sweep) metered.add(both); }
      if (edge.touch === "doubtful") {
        doubtful.add(pair(edge.a, edge.b));
        for (const p of [edge.a, edge.b]) wrong.add(net(p).name);
        if (harmful(edge.a, edge.b)) dangers.push(`${named(edge.a)} is not clear of ${named(edge.b)}`);
      }
    }
    const members = new Map();
    for (const [contact, number] of group) members.set(number, [...(members.get(number) || []), contact]);
    for (const contacts of members.values()) {
      const inside = [...new Set(contacts.map((p) => netOf.get(p)))];
      if (inside.length < 2) continue;
      inside.forEach((index) => wrong.add(nets[index].name));
      const rail = contacts.find((p) => net(p).rail && contacts.some((q) => harmful(p, q)));
      if (rail) dangers.unshift(`${named(rail)} is joined to ${named(contacts.find((q) => harmful(rail, q)))}`);
    }
    for (const one of nets) {
      const parts = [...new Set(one.contacts.map((p) => group.get(p)))];
      const size = (part) => one.contacts.filter((p) => group.get(p) === part).length;
      const main = parts.reduce((best, part) => (size(part) > size(best) ? part : best), parts[0]);
      const cut = parts.filter((part) => part !== main && separate.has(pair(main, part)));
      if (!cut.length) continue;
      wrong.add(one.name);
      const where = one.contacts.filter((p) => cut.includes(group.get(p))).join(", ");
      const inside = parts.map((part) => [...new Set(members.get(part).map(net))]); // exchanged, or moved to a free contact
      const astray = (parts.length === 2 && inside.every((some) => some.length === 2)) || inside.some((some) => some.some((other) => other.unused));
      const through = one.contacts.some((a) => a.startsWith("J1 ") && one.contacts.some((b) => b.startsWith("J2 ") && group.get(a) === group.get(b)));
      if (one.rail) dangers.push(`${one.name}, a supply, is open at ${where}`);
      else if (one.back && (astray || !through)) dangers.push(`${one.name}, the return, is open at ${where}`);
    }
    plan.rows.forEach((row, index) => {
      const [verdict] = said(row, taken[index]);
      if (row.kind === "volts" && verdict === "danger") dangers.push(`${named(row.start)} reads ${taken[index].written}: it must read ${row.expected}`);
    });
    const seen = (a, b, apart) => group.get(a) === group.get(b) || apart.has(pair(group.get(a), group.get(b))) || doubtful.has(pair(a, b));
    const known = (row, index) => {
      if (row.kind === "volts") return taken[index].volts !== undefined;
      if (row.kind === "sweep") return plan.there[row.over].every((p) => p === row.start || bridged(row.start, p) || seen(row.start, p, separate));
      const strict = row.kind !== "continuity" && (net(row.start).rail || net(row.stop).rail);
      return seen(row.start, row.stop, strict ? metered : separate);
    };
    const unread = plan.rows.filter((row, index) => taken[index].complaint);
    const missing = plan.rows.filter((row, index) => taken[index].complaint || !known(row, index));
    const stop = plan.refused.length > 0 || dangers.length > 0;
    let verdict = "all readings pass", why = "Lines were only tested against their neighbours; a sweep of each would find the rest. Switch off before the card goes in, and measure the rails at the card once more with it in.";
    const volted = plan.rows.some((row, index) => row.kind === "volts" && taken[index].volts !== undefined);
    if (stop) {
      verdict = "do not apply power";
      why = plan.refused.length ? "The plan itself says do not build." : `${[...new Set(dangers)].slice(0, 3).join("; ")}. Mend this with power off and nothing plugged in, then measure again.`;
    } else if (wrong.size) {
      verdict = "mend first";
      why = `Not as planned: ${[...wrong].slice(0, 6).join(", ")}. The power stays off until then.`;
      if (wrong.size > 2) why += " One mistake may be behind it, and may reach the supplies: give the readings to pinmap bench.";
    } else if (contradictions) { verdict = "not yet"; why = "Readings contradict each other: take them again. The power stays off until then."; }
    else if (missing.length) {
      verdict = "not yet";
      why = `${missing.length} of ${plan.rows.length} readings are still to take${unread.length ? `, ${unread.length} of them not understood` : ""}.`;
      why += missing.every((row) => row.kind === "volts") ? " All readings with power off pass." : " The power stays off until then.";
    }
    const off = missing.some((row) => row.kind !== "volts");
    if (volted && (stop || wrong.size || contradictions || (missing.length && off))) why = `Volts were taken, so the power was on: switch off and unplug the adapter. ${why}`;
    return { taken, verdict, why, missing, wrong: wrong.size > 0, stop, contradictions };
  }

  // ---------------------------------------------------------------- what is shown

  function light(contacts, about, row) {
    all(".ring").forEach((ring) => ring.remove());
    all(".lit").forEach((one) => one.classList.remove("lit"));
    all("button[aria-pressed=true]").forEach((one) => one.setAttribute("aria-pressed", "false"));
    if (row) row.classList.add("lit");
    const shown = new Set();
    for (const contact of contacts) {
      const ref = contact.slice(0, contact.indexOf(" ")), label = contact.slice(ref.length + 1);
      const box = at(`sight-${ref}`), place = plan.places[contact];
      const picture = box.querySelector("svg");
      for (const group of picture.querySelectorAll("g[data-contact]")) if (group.dataset.contact === label) group.classList.add("lit");
      if (!place) continue;
      const ring = document.createElementNS(picture.namespaceURI, "circle");
      for (const [name, value] of [["cx", place[0]], ["cy", place[1]], ["r", 2.1], ["class", "ring"]]) ring.setAttribute(name, value);
      picture.append(ring);
      if (shown.has(ref)) continue;
      shown.add(ref);
      const scale = picture.getBoundingClientRect().width / picture.viewBox.baseVal.width;
      box.scrollLeft = place[0] * scale - box.clientWidth / 2;
      box.scrollTop = place[1] * scale - box.clientHeight / 2;
    }
    at("lit").textContent = about;
  }
  function lightWire(box) {
    if (plan.parts && box.dataset.tick in plan.parts) {
      const part = plan.parts[box.dataset.tick];
      light(part.contacts, `${box.dataset.tick}: ${part.about}`, box.closest("tr"));
      box.closest("tr").querySelector("button").setAttribute("aria-pressed", "true");
      return;
    }
    if ("late" in box.dataset) {
      const lead = plan.wires[box.dataset.tick];
      light([lead.from, lead.to].filter((end) => plan.places[end]), `${lead.about}: ${lead.from} to ${lead.to}, ${lead.signal}`, box.closest("tr"));
      box.closest("tr").querySelector("button").setAttribute("aria-pressed", "true");
      return;
    }
    const wire = plan.wires[box.dataset.tick];
    light([wire.from, wire.to], `Wire ${box.dataset.tick}: ${wire.from} to ${wire.to}, ${wire.signal}`, box.closest("tr"));
    box.closest("tr").querySelector("button").setAttribute("aria-pressed", "true");
  }
  function lightRow(field) {
    const row = plan.rows[field.dataset.step - 1];
    light(row.stop ? [row.start, row.stop] : [row.start], `${row.start} ${row.stop ? `to ${row.stop}` : `over ${row.over}`}, ${row.kind}`, field.closest("tr"));
  }
  const button = (text, act) => {
    const made = document.createElement("button");
    made.type = "button"; made.textContent = text; made.addEventListener("click", act);
    return made;
  };
  function go(element) {
    element.scrollIntoView({ block: "center" });
    element.focus({ preventScroll: true });
  }
  function enter(step, written) {
    state.readings[step] = written;
    fields[step - 1].value = written;
    lightRow(fields[step - 1]);
    changed();
  }

  function show() {
    const judged = judge();
    const started = Object.keys(state.readings).length > 0;
    plan.rows.forEach((row, index) => {
      const [verdict, text] = said(row, judged.taken[index]);
      const out = at(`v${row.step}`);
      const settled = !verdict && !judged.missing.includes(row);
      out.dataset.verdict = verdict || (settled ? "settled" : "");
      out.textContent = settled ? "known from other readings" : text;
      if (verdict === "not read") fields[index].setAttribute("aria-invalid", "true");
      else fields[index].removeAttribute("aria-invalid");
    });
    for (const field of seconds) { // the same volts once more, with a card in
      const row = plan.rows[field.dataset.again - 1], written = (state.again[row.step] || "").trim(), taken = { written, edges: [] };
      try { if (written) taken.volts = volts(written); } catch (error) {
        if (!(error instanceof Complaint)) throw error;
        taken.complaint = error.message;
      }
      const [verdict, text] = said(row, taken), out = at(`w${row.step}`);
      out.dataset.verdict = verdict;
      out.textContent = verdict === "danger" ? `wrong: switch off at once; it must read ${row.expected}` : text;
    }
    for (const box of boxes) {
      box.checked = Boolean(state.ticks[box.dataset.tick]);
      box.closest("tr").classList.toggle("ticked", box.checked);
    }
    const answer = at("answer");
    answer.hidden = !started && !plan.refused.length;
    answer.classList.toggle("stop", judged.stop);
    answer.dataset.verdict = judged.verdict;
    const first = `${judged.verdict[0].toUpperCase()}${judged.verdict.slice(1)}.`;
    if (at("first").textContent !== first) at("first").textContent = first;
    if (at("why").textContent !== judged.why) at("why").textContent = judged.why;
    const warning = at("power-warning");
    if (warning) {
      const early = judged.missing.some((row) => row.kind !== "volts");
      warning.textContent = judged.stop || judged.wrong || judged.contradictions ? "Do not apply power: see the top of the page."
        : early ? "Not yet: first every reading with power off." : "";
      warning.classList.toggle("stop", judged.stop || judged.wrong);
      const open = boxes.some((one) => "late" in one.dataset && !one.checked);
      if (!warning.textContent && open) warning.textContent = "Not yet: first the parts and their leads.";
    }
    const right = !judged.stop && !judged.wrong && !judged.contradictions && !judged.missing.some((row) => row.kind !== "volts");
    const begun = boxes.some((one) => "late" in one.dataset && one.checked);
    const early = at("parts-warning");
    if (early) early.textContent = right ? "" : begun ? "Not every reading with power off is right, and parts are in: a meter measures through them. Lift a lead of each before you measure."
      : "Not yet: first every reading with power off.";
    next(judged);
  }
  function next(judged) {
    const bar = at("bar"), line = at("next"), quick = [];
    const off = judged.missing.some((one) => one.kind !== "volts");
    const box = boxes.find((one) => !one.checked && !("late" in one.dataset))
      || (off || judged.wrong || judged.contradictions ? undefined : boxes.find((one) => !one.checked));
    const row = judged.missing.find((one) => one.kind !== "volts") || (judged.wrong || judged.contradictions ? null : judged.missing[0]);
    bar.classList.toggle("stop", judged.stop);
    let text;
    if (plan.refused.length) text = "Do not build. See what was found.";
    else if (judged.stop) { text = "Do not apply power. The reasons stand at the top."; quick.push(button("To the top", () => scrollTo(0, 0))); }
    else if (box) {
      const wire = plan.wires[box.dataset.tick];
      const late = "late" in box.dataset;
      text = wire ? `Next: ${late ? "lead" : "wire"} ${box.dataset.tick}, ${wire.from} to ${wire.to} (${wire.signal})`
        : `Power off. Next: fit ${box.dataset.tick}, ${plan.parts[box.dataset.tick].about}`;
      quick.push(button("Show", () => { lightWire(box); go(box); }), button("Done", () => {
        state.ticks[box.dataset.tick] = true;
        changed();
        lightWire(boxes.find((one) => !one.checked && ("late" in one.dataset) === late) || box); // where the iron goes next
      }));
    } else if (row) {
      const field = fields[row.step - 1];
      text = `Next: step ${row.step}, ${row.kind}, ${row.start} ${row.stop ? `to ${row.stop}` : `over ${row.over}`}; expected ${row.expected}`;
      quick.push(button("Show", () => go(field)));
      const words = { volts: [], sweep: ["none"] }[row.kind] || ["beep", "OL"];
      words.forEach((word) => quick.push(button(word, () => enter(row.step, word))));
    } else if (judged.wrong || judged.contradictions) text = `${judged.verdict === "mend first" ? "Mend first" : "Not yet"}. ${judged.why}`;
    else text = `All done. ${judged.why}`;
    if (line.textContent !== text) line.textContent = text.length > 220 ? `${text.slice(0, 219)}…` : text;
    const had = at("quick").contains(document.activeElement) ? document.activeElement.textContent : "";
    at("quick").replaceChildren(...quick);
    const again = quick.find((one) => one.textContent === had) || (had && quick[0]);
    if (again) again.focus();
    document.documentElement.style.scrollPaddingBottom = `${bar.offsetHeight + 16}px`; // what is in focus stays above it
  }
  function changed() { save(); show(); }

  function table() {
    const cell = (text) => (/[",\r\n]/u.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
    const plain = (text, over) => { // as in the form: no label of a sweep by itself, nothing that begins a formula
      const whole = over && /^[^A-Za-z]/u.test(text) ? `${over} ${text}` : text;
      return /^[=+\-@]/u.test(whole) ? ` ${whole}` : whole;
    };
    const lines = plan.form.map((cells, index) => {
      const row = [...cells];
      if (index) row[plan.column] = plain((state.readings[index] || "").trim(), plan.rows[index - 1].over);
      return row.map(cell).join(",");
    });
    return `${lines.join("\r\n")}\r\n`;
  }

  // ---------------------------------------------------------------- what a person does

  load();
  const bench = () => { if (state.bench) document.documentElement.dataset.bench = state.bench; };
  bench();
  for (const field of fields) {
    field.value = state.readings[field.dataset.step] || "";
    field.addEventListener("focus", () => lightRow(field));
    field.addEventListener("input", () => {
      if (field.value.trim()) state.readings[field.dataset.step] = field.value;
      else delete state.readings[field.dataset.step];
      changed();
    });
    field.addEventListener("keydown", (event) => {
      const following = fields[Number(field.dataset.step)];
      if (event.key === "Enter" && following) { event.preventDefault(); go(following); }
    });
  }
  for (const field of seconds) {
    field.value = state.again[field.dataset.again] || "";
    field.addEventListener("input", () => { state.again[field.dataset.again] = field.value; changed(); });
  }
  for (const box of boxes) {
    box.addEventListener("change", () => { state.ticks[box.dataset.tick] = box.checked; changed(); });
    box.closest("tr").addEventListener("click", () => lightWire(box));
  }
  at("download").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([table()], { type: "text/csv;charset=utf-8" }));
    link.download = "readings.csv";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  });
  at("bench").addEventListener("click", () => {
    const dark = state.bench ? state.bench === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
    state.bench = dark ? "bright" : "dark";
    bench(); save();
  });
  at("print").addEventListener("click", () => print());
  at("clear").addEventListener("click", () => {
    if (!confirm("Forget every tick and reading of this adapter?")) return;
    state.ticks = {}; state.readings = {}; state.again = {};
    [...fields, ...seconds].forEach((field) => { field.value = ""; });
    changed();
  });
  addEventListener("beforeprint", () => all("details").forEach((one) => { one.open = true; }));
  addEventListener("storage", (event) => { if (event.key === plan.key) location.reload(); });
  show();
})();
