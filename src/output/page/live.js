// What makes a page live: it executes recordings, which are data: for every frame the bytes that programs read. Programs in
// WGSL and pictures that all orders have in common are shared, named by their places. Nothing here knows any effect.
//
// @typedef {{code: string, entry: string, bindings: string[], format: string, texels: [number, number]}} Program
// @typedef {{name: string, label: string, help: string, kind: "number"|"whole"|"colour"|"choice", range?: [number, number],
//   before: string, behind: string, scale: number, words?: string[], value: number|string, moves: boolean,
//   stops?: number[], at: number[]}} Setting
//   `at`: offsets of the bytes that hold it as it is; `stops`: the values that it may have, where others follow from it.
// @typedef {{at: number, size: number, from: number[]}} Derived  what follows from settings: its bytes stand in tables.
// @typedef {{mark: string, label: string, on: boolean, program: number, past: number|null, settings: Setting[],
//   derived: Derived[], text: string}} Effect
// @typedef {{kind: "apply"|"over"|"under", program: number, past: number|null, id: string, bytes: string}} After
// @typedef {{beat: string, pictures: number[][], settings: string[], tables: number[][], after: After[]}} Frame
//   `pictures`: the one under the chain first, then those laid over or under it; two where it comes in halves.
"use strict";
const bytesOf = (text) =>
  Uint8Array.fromBase64?.(text) ?? Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

const made = (name, attributes = {}, ...inside) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) element[key] = value;
    else if (value !== false) element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...inside);
  return element;
};

/** Makes what a key stands for when it is first asked for. */
const once = (make) => {
  const known = new Map();
  return (key) => {
    if (!known.has(key)) known.set(key, make(key));
    return known.get(key);
  };
};

const shared = JSON.parse(document.getElementById("shared").textContent);
let device;

const processor = once(async () => {
  const adapter = await navigator.gpu?.requestAdapter();
  if (!adapter) throw new Error(`this browser ${navigator.gpu ? "found no graphics processor for" : "has no"} WebGPU`);
  device = await adapter.requestDevice();
});

const programOf = once(async (nth) => {
  const { code, entry, bindings, format } = shared.programs[nth];
  const binding = {
    picture: { texture: { sampleType: "unfilterable-float", viewDimension: "2d-array" } },
    settings: { buffer: { type: "uniform" } },
    result: { storageTexture: { access: "write-only", format, viewDimension: "2d-array" } },
    jobs: { buffer: { type: "read-only-storage" } },
  };
  const entries = bindings.map((kind, at) => ({ binding: at, visibility: GPUShaderStage.COMPUTE, ...binding[kind] }));
  const layout = device.createBindGroupLayout({ entries });
  const pipeline = await device.createComputePipelineAsync({
    layout: device.createPipelineLayout({ bindGroupLayouts: [layout] }),
    compute: { module: device.createShaderModule({ code }), entryPoint: entry },
  });
  return { pipeline, layout };
});

// It may be read, written, and copied from and to.
const textureFor = (format, width, height) => device.createTexture({ size: [width, height, 1], format, usage: 15 });

// Its bytes are inflated; each is added to the one so many before it.
const pictureOf = once(async (nth) => {
  const [width, height, by, text] = shared.pictures[nth];
  const inflated = new Blob([bytesOf(text)]).stream().pipeThrough(new DecompressionStream("deflate"));
  const bytes = new Uint8Array(await new Response(inflated).arrayBuffer());
  for (let at = by; at < bytes.length; at++) bytes[at] += bytes[at - by];
  const texture = textureFor("rgba8unorm", width, height);
  device.queue.writeTexture({ texture }, bytes, { bytesPerRow: width * 4 }, [width, height]);
  return texture;
});

/** Runs a stage of the page; the address belongs to the only one. */
const run = (root, nth) => {
  const isOnly = !stages[1];
  const suffix = nth ? `-${nth + 1}` : "";
  const byId = (id) => document.getElementById(`${id}${suffix}`);
  const say = (id, words) => byId(id).textContent = words;
  const data = JSON.parse(byId("recording").textContent);
  const { effects, frames } = data;
  const [width, height] = data.size;
  const levels = shared.levels[data.levels];
  const own = effects.map((_, at) => at);

  /** What the stage is doing; the first speaks for the page. */
  const note = (key, value) => {
    root.dataset[key] = value;
    if (!nth) document.documentElement.dataset[key] = value;
  };
  const stay = (why) => {
    note("live", "off");
    note("why", say("why", why));
  };

  /** `set`: of each effect what was moved by hand. */
  const asInFile = () => ({ order: own, on: effects.map((effect) => effect.on), set: effects.map(() => ({})) });
  const state = asInFile();
  let frame = data.shown;
  let other = null;

  const codeOf = (order) => order.map((at) => effects[at].mark).join(data.dotted ? "." : "");
  const orderOf = (code) => {
    const marks = data.dotted ? code.split(".") : [...code];
    const order = marks.map((mark) => effects.findIndex((effect) => effect.mark === mark));
    return order.length === effects.length && own.every((at) => order.includes(at)) ? order : null;
  };

  /** The bytes that an effect reads at a frame. */
  const settingsOf = (shown, effect, nth) => {
    const bytes = bytesOf(frames[nth].settings[effect]);
    const view = new DataView(bytes.buffer);
    const { settings, derived } = effects[effect];
    const set = shown.set[effect];
    for (const [place, value] of Object.entries(set)) {
      const { kind, at } = settings[place];
      for (const offset of at) {
        if (kind === "number") view.setFloat32(offset, value, true);
        else if (kind !== "colour") view.setInt32(offset, value, true);
        else [1, 3, 5].forEach((digit, channel) =>
          view.setFloat32(offset + 4 * channel, levels[parseInt(value.slice(digit, digit + 2), 16)], true));
      }
    }
    derived.forEach(({ at, size, from }, which) => {
      if (!from.some((place) => place in set)) return;
      // The first row of a setting is its own value now.
      const row = from.reduce((row, place) => {
        const { stops } = settings[place];
        return row * (stops.length + 1) + (place in set ? stops.indexOf(set[place]) + 1 : 0);
      }, 0);
      const table = bytesOf(shared.tables[frames[nth].tables[effect][which]]);
      bytes.set(table.subarray(row * size, row * size + size), at);
    });
    return bytes;
  };

  const textureOf = once((key) => textureFor(key.split(" ").pop(), width, height));
  let spent = [];

  const bufferOf = (bytes, usage) => {
    const size = Math.max(16, Math.ceil(bytes.length / 16) * 16);
    const buffer = device.createBuffer({ size, usage, mappedAtCreation: true });
    new Uint8Array(buffer.getMappedRange()).set(bytes);
    buffer.unmap();
    spent.push(buffer);
    return { buffer };
  };

  /** Records one program over whole pictures; gives the picture that it fills. */
  const dispatched = async (pass, nth, read, bytes, key) => {
    const { pipeline, layout } = await programOf(nth);
    const { bindings, texels, format } = shared.programs[nth];
    const into = textureOf(`${key} ${format}`);
    const view = (texture) => texture.createView({ dimension: "2d-array" });
    const unread = [...read];
    const resource = {
      picture: () => view(unread.shift() ?? textureOf("unused rgba8unorm")),
      settings: () => bufferOf(bytes, GPUBufferUsage.UNIFORM),
      result: () => view(into),
      jobs: () => bufferOf([], GPUBufferUsage.STORAGE),
    };
    const entries = bindings.map((kind, binding) => ({ binding, resource: resource[kind]() }));
    pass.setPipeline(pipeline);
    pass.setBindGroup(0, device.createBindGroup({ layout, entries }));
    pass.dispatchWorkgroups(Math.ceil(width / texels[0]), Math.ceil(height / texels[1]));
    return into;
  };

  /** The output of a frame, row by row, as bytes of straight alpha. */
  const rendered = async (shown, nth) => {
    const last = new Map();
    let now;
    // What is remembered is rendered from the first frame on.
    for (let at = data.remembers ? 0 : nth; at <= nth; at++) {
      const fixed = await Promise.all(frames[at].pictures.map((parts) => Promise.all(parts.map(pictureOf))));
      const encoder = device.createCommandEncoder();
      const pass = encoder.beginComputePass();
      const taken = async (parts, key) => {
        const by = parts.length > 1 ? data.join : data.takeIn;
        return by === null ? parts[0] : dispatched(pass, by, parts, [], `taken ${key}`);
      };
      // An effect's last output is read while its next is written: they take turns.
      const applied = async ({ program, past }, id, bytes) => {
        const before = past === null ? undefined : last.get(id);
        const read = before ? [now, before] : [now];
        now = await dispatched(pass, before ? past : program, read, bytes, `${id} ${at % 2}`);
        if (past !== null) last.set(id, now);
      };
      now = await taken(fixed[0], 0);
      for (const effect of shown.order) {
        if (shown.on[effect]) await applied(effects[effect], `effect ${effect}`, settingsOf(shown, effect, at));
      }
      let laid = 0;
      for (const [step, after] of frames[at].after.entries()) {
        const bytes = bytesOf(after.bytes);
        if (after.kind === "apply") {
          await applied(after, `after ${after.id || step}`, bytes);
          continue;
        }
        laid += 1;
        const read = [await taken(fixed[laid], laid), now];
        if (after.kind === "under") read.reverse();
        now = await dispatched(pass, after.program, read, bytes, `after ${step}`);
      }
      if (at === nth && data.giveOut !== null) now = await dispatched(pass, data.giveOut, [now], [], "output");
      pass.end();
      device.queue.submit([encoder.finish()]);
    }
    const bytesPerRow = Math.ceil(width / 64) * 256;
    const usage = GPUBufferUsage.COPY_DST | GPUBufferUsage.MAP_READ;
    const buffer = device.createBuffer({ size: bytesPerRow * height, usage });
    const encoder = device.createCommandEncoder();
    encoder.copyTextureToBuffer({ texture: now }, { buffer, bytesPerRow }, [width, height, 1]);
    device.queue.submit([encoder.finish()]);
    await buffer.mapAsync(GPUMapMode.READ);
    const padded = buffer.getMappedRange();
    const bytes = new Uint8ClampedArray(width * height * 4);
    for (let row = 0; row < height; row++) bytes.set(new Uint8Array(padded, row * bytesPerRow, width * 4), row * width * 4);
    for (const one of [buffer, ...spent]) one.destroy();
    spent = [];
    return bytes;
  };

  let isBusy = false;
  let isWanted = false;
  /** Draws what is shown now; called meanwhile, once more when it is done. */
  const draw = async () => {
    isWanted = true;
    if (isBusy || !device) return;
    isBusy = true;
    try {
      while (isWanted) {
        isWanted = false;
        const shown = structuredClone(state);
        const at = frame;
        const put = async (canvas, what) =>
          canvas.getContext("2d").putImageData(new ImageData(await rendered(what, at), width, height), 0, 0);
        await put(byId("live"), shown);
        if (other) await put(byId("other"), other);
        note("shown", `${codeOf(shown.order)} ${at}`);
      }
    } catch (error) {
      stay(`the pictures could not be drawn (${error.message})`);
    }
    isBusy = false;
  };

  const path = byId("path");
  const links = nth ? [] : document.querySelectorAll("a[data-code]");
  const pairs = [...root.querySelectorAll("[data-pair]")];
  const pairOf = (field) => field.dataset.pair.split(" ").map(Number);
  let told;
  const sayPair = (field) => say("pair-said", (told = field).ariaLabel);
  const holds = (order, [before, after]) => order.indexOf(before) < order.indexOf(after);
  const tell = () => {
    const { order } = state;
    const code = codeOf(order);
    const family = data.families.find(({ facts }) => facts.every((fact) => holds(order, fact)));
    // Looks are those of the file's own settings.
    const isAsFound = frame === data.shown
      && state.on.every((on, at) => on === effects[at].on && !Object.keys(state.set[at]).length);
    const look = isAsFound && data.looks[code];
    const isOwn = code === codeOf(own);
    say("said", [code, family && `family “${family.name}”`, look && `look ${look}`, isOwn && "the file’s own order"]
      .filter(Boolean).join(" · "));
    byId("toml").value = toml();
    for (const field of pairs) {
      const [a, b] = pairOf(field);
      const [under, over] = holds(order, [a, b]) ? [a, b] : [b, a];
      field.ariaLabel = `${effects[under].label} under ${effects[over].label}. ${field.dataset.said}`;
      field.ariaPressed = under === b;
    }
    if (told) sayPair(told);
    for (const link of links) {
      link.toggleAttribute("aria-current", link.dataset.code === code);
    }
  };

  const changed = () => {
    tell();
    draw();
  };

  const setOrder = (order, isLinked) => {
    state.order = order;
    const focused = document.activeElement;
    // What is dragged stays in the page with its pointer.
    const dragged = path.querySelector(".moving")?.closest("li");
    let isBehind = !dragged;
    for (const card of order.map((at) => path.querySelector(`[data-effect="${at}"]`))) {
      if (card === dragged) isBehind = true;
      else path.insertBefore(card, isBehind ? null : dragged);
    }
    if (path.contains(focused)) focused.focus({ preventScroll: isLinked });
    if (isOnly && !isLinked) history.replaceState(null, "", `#${codeOf(order)}`);
    changed();
  };

  const moveTo = (effect, place) => {
    const order = state.order.filter((at) => at !== effect);
    order.splice(Math.max(0, place), 0, effect);
    if (codeOf(order) !== codeOf(state.order)) setOrder(order);
  };

  /** A chain file of what is shown. */
  const toml = () => {
    const blocks = state.order.map((at) => {
      const effect = effects[at];
      let lines = effect.text.split("\n").filter((line) => line && !line.startsWith("on = "));
      for (const [place, value] of Object.entries(state.set[at])) {
        const { name, kind, words } = effect.settings[place];
        const written = kind === "choice" ? JSON.stringify(words[value])
          : kind === "colour" ? JSON.stringify(value)
          : kind === "number" && Number.isInteger(value) ? `${value}.0` : `${value}`;
        lines = lines.filter((line) => !line.startsWith(`${name} = `)).concat(`${name} = ${written}`);
      }
      if (!state.on[at]) lines.push("on = false");
      return `\n${lines.join("\n")}\n`;
    });
    return data.head + blocks.join("");
  };

  const valueSaid = ({ kind, words, before, behind, scale }, value) => kind === "choice" ? words[value]
    : kind === "colour" ? value : `${before}${Number((value * scale).toFixed(4))}${behind}`;

  const settingOf = (at, place) => {
    const setting = effects[at].settings[place];
    const { kind, label, range, stops, words, help } = setting;
    const said = made("output", {}, setting.moves ? "moves with the beat" : valueSaid(setting, setting.value));
    const set = (value) => {
      state.set[at][place] = value;
      said.textContent = valueSaid(setting, value);
      changed();
    };
    const id = `setting-${at}-${place}${suffix}`;
    let field;
    if (kind === "choice") {
      field = made("select", { id, onchange: () => set(field.selectedIndex) },
        ...words.map((word, nth) => made("option", { selected: nth === setting.value }, word)));
    } else if (kind === "colour") {
      field = made("input", { id, type: "color", value: setting.value, oninput: () => set(field.value) });
    } else {
      // What is set is one of the stops.
      const reach = stops ? { min: 0, max: stops.length - 1, step: 1, value: Math.max(0, stops.indexOf(setting.value)) }
        : { min: range[0], max: range[1], step: kind === "whole" ? 1 : "any", value: setting.value };
      const told = () => stops ? stops[field.value] : Number(Number(field.value).toPrecision(4));
      field = made("input", { id, type: "range", ...reach, "aria-valuetext": said.textContent, oninput: () => {
        set(told());
        field.ariaValueText = said.textContent;
      } });
    }
    return made("p", {}, made("label", { for: id }, label), field, said, made("small", {}, help));
  };

  const cardOf = (at) => {
    const { mark, label, settings } = effects[at];
    const grip = made("button", {
      class: "grip", type: "button",
      "aria-label": `${mark} ${label}: arrow keys move it, the first is applied first`,
      onkeydown: (event) => {
        const by = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1, Home: -own.length, End: own.length }[event.key];
        if (by === undefined) return;
        event.preventDefault();
        moveTo(at, state.order.indexOf(at) + by);
      },
      onpointerdown: (event) => {
        grip.setPointerCapture(event.pointerId);
        grip.classList.add("moving");
      },
      onpointermove: (event) => {
        if (!grip.hasPointerCapture(event.pointerId)) return;
        const under = document.elementFromPoint(event.clientX, event.clientY)?.closest(".path > li");
        if (under?.parentElement === path && under !== card) moveTo(at, state.order.indexOf(Number(under.dataset.effect)));
      },
      onlostpointercapture: () => grip.classList.remove("moving"),
    }, made("span", { class: `chip mark-${mark}` }, mark), made("span", {}, label));
    const toggle = made("input", { type: "checkbox", "aria-label": `${label} is on`, checked: state.on[at], onchange: () => {
      state.on[at] = toggle.checked;
      changed();
    } });
    const card = made("li", { "data-effect": at }, made("div", { class: "head" }, grip, toggle));
    const inside = settings.map((_, place) => settingOf(at, place));
    if (inside.length) card.append(made("details", {}, made("summary", {}, "Settings"), ...inside));
    return card;
  };

  const compare = () => {
    other = other ? null : structuredClone(state);
    root.toggleAttribute("data-comparing", !!other);
    say("compare", other ? "Stop comparing" : "Compare with this order");
    say("other-said", other ? codeOf(other.order) : "");
    wipe();
    draw();
  };

  const wipe = () => {
    byId("other").style.clipPath = "beside" in root.dataset ? "" : `inset(0 ${100 - byId("wipe").value}% 0 0)`;
  };

  let clock = null;
  const showFrame = (nth) => {
    frame = nth;
    byId("beat").value = nth;
    say("beat-said", frames[nth].beat);
    changed();
  };
  const play = () => {
    say("play", clock ? "Play" : "Pause");
    clearInterval(clock);
    clock = clock ? null : setInterval(() => isBusy || showFrame((frame + 1) % frames.length), data.milliseconds);
  };

  const wire = () => {
    path.replaceChildren(...own.map(cardOf));
    byId("compare").onclick = compare;
    byId("wipe").oninput = wipe;
    byId("beside").onchange = ({ target }) => {
      root.toggleAttribute("data-beside", target.checked);
      wipe();
    };
    byId("own").onclick = () => {
      Object.assign(state, asInFile());
      path.replaceChildren(...own.map(cardOf));
      setOrder(own);
    };
    byId("copy").onclick = async () => {
      const text = byId("toml");
      text.select();
      const copied = await navigator.clipboard?.writeText(text.value).then(() => true, () => false);
      say("copied", copied ? "Copied." : "Selected: copy it from there.");
    };
    if (frames.length > 1) {
      const beat = byId("beat");
      beat.max = frames.length - 1;
      beat.value = frame;
      beat.oninput = () => showFrame(Number(beat.value));
      // Who asked for less motion steps by hand.
      byId("play").hidden = matchMedia("(prefers-reduced-motion: reduce)").matches;
      byId("play").onclick = play;
    }
    for (const field of pairs) {
      const pair = pairOf(field);
      const reach = (to) => pairs.forEach((one) => one.tabIndex = one === to ? 0 : -1);
      if (field === pairs[0]) reach(field);
      field.onclick = () => {
        const [first, last] = pair.map((at) => state.order.indexOf(at)).sort((a, b) => a - b);
        moveTo(state.order[last], first);
      };
      field.onfocus = () => sayPair(field);
      // What has the keys goes before the pointer.
      field.onpointerenter = () => told?.matches(":focus-visible") || sayPair(field);
      field.onkeydown = (event) => {
        const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
        const next = by && pairs.find((one) => one.dataset.pair === `${pair[0] + by[0]} ${pair[1] + by[1]}`);
        if (!next) return;
        event.preventDefault();
        reach(next);
        next.focus();
      };
    }
    for (const link of links) {
      // The picture may be far above it.
      link.onclick = () => {
        scrollTo(0, root.offsetTop);
        path.querySelector("button").focus({ preventScroll: true });
      };
    }
    const fromAddress = () => {
      const order = isOnly && orderOf(location.hash.slice(1) || codeOf(own));
      if (order) setOrder(order, true);
      return order;
    };
    addEventListener("hashchange", fromAddress);
    if (!fromAddress()) changed();
    byId("beat-said")?.append(frames[frame].beat);
  };

  const start = async () => {
    await processor();
    device.lost.then(({ message }) => stay(`the graphics processor was lost${message ? ` (${message})` : ""}`));
    device.addEventListener("uncapturederror", ({ error }) => stay(`the graphics processor refused (${error.message})`));
    // All at once that the first picture takes; what can be done with it stands as soon as it does.
    const { pictures, after } = frames[frame];
    const first = effects.filter(({ on }) => on).concat(after).map(({ program }) => program);
    await Promise.all(first.map(programOf).concat(pictures.flat().map(pictureOf)));
    wire();
    while (isBusy) await new Promise((done) => setTimeout(done, 5));
    if (root.dataset.live !== "off") note("live", "on");
    data.programs.forEach(programOf);
  };
  return start().catch((error) => stay(error.message));
};

const stages = [...document.querySelectorAll(".stage")];
const near = new IntersectionObserver((seen) => {
  for (const { target } of seen.filter(({ isIntersecting }) => isIntersecting)) {
    near.unobserve(target);
    run(target, stages.indexOf(target));
  }
}, { rootMargin: "600px" });
stages.forEach((stage, nth) => nth ? near.observe(stage) : run(stage, 0));

// A question is answered before its answer opens. What was said stays with the browser, or with the page where that keeps
// nothing for files.
const ANSWERS = "underover answers";
let kept = {};
try {
  kept = Object(JSON.parse(localStorage.getItem(ANSWERS)));
} catch {}
const keep = (name, words) => {
  kept[name] = words;
  try {
    localStorage.setItem(ANSWERS, JSON.stringify(kept));
  } catch {}
};
const questions = [...document.querySelectorAll(".choices")].map((list, nth) => {
  const question = list.parentElement;
  const answer = question.querySelector(":scope > details");
  const verdict = made("p", { role: "status", class: "verdict" });
  const { name } = list.dataset;
  let isRight;
  const tell = () => {
    verdict.textContent = isRight === undefined ? ""
      : !answer.open ? "Noted. Try it with your own hands, then open the answer."
      : isRight ? "Fine: that is what happens." : "It comes out otherwise; the answer says why.";
    question.classList.toggle("answered", isRight !== undefined);
    if (isRight !== undefined) again.hidden = false;
  };
  answer.ontoggle = tell;
  const fields = [...list.children].map((choice, at) => {
    const words = choice.textContent;
    const said = () => {
      isRight = at === Number(list.dataset.answer);
      keep(name, words);
      tell();
    };
    const field = made("input", { type: "radio", name: `question-${nth}`, checked: kept[name] === words, onchange: said });
    choice.replaceChildren(made("label", {}, field, " ", ...choice.childNodes));
    return { field, said };
  });
  list.after(verdict);
  return { resume: () => fields.find(({ field }) => field.checked)?.said(), forget: () => {
    keep(name);
    isRight = undefined;
    answer.open = false;
    for (const { field } of fields) field.checked = false;
    question.querySelector("[id^=own]")?.click();
    tell();
  } };
});
const again = made("button", { type: "button", hidden: true, onclick: () => {
  for (const { forget } of questions) forget();
  again.hidden = true;
} }, "Begin again");
if (questions.length) document.querySelector("header").append(again);
for (const { resume } of questions) resume();
