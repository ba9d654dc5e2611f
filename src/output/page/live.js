// What makes a page live: it executes recordings. A recording is data: programs in WGSL with their bindings, pictures
// that are the same for every order, and for every frame the bytes that each program reads. All of it was written by the
// program that made the page; nothing here knows any effect.
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
// @typedef {{beat: string, pictures: number[], settings: string[], tables: number[][], after: After[]}} Frame
//   `pictures`: the one under the chain first, then those laid over or under it.
"use strict";
const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

const made = (name, attributes = {}, ...inside) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, "");
    else if (value !== false && value !== null) element.setAttribute(key, value);
  }
  element.append(...inside);
  return element;
};

let asked = null;
/** The graphics processor, which all stages of a page share. */
const sharedDevice = () => asked ??= (async () => {
  if (!navigator.gpu) throw new Error("this browser has no WebGPU");
  const adapter = await navigator.gpu.requestAdapter();
  if (!adapter) throw new Error("this browser found no graphics processor for WebGPU");
  return adapter.requestDevice();
})();

/** Runs the stage at a place of the page; the address belongs to the only one. */
const run = (root, nth, isOnly) => {
  const suffix = nth ? `-${nth + 1}` : "";
  const byId = (id) => document.getElementById(`${id}${suffix}`);
  const data = JSON.parse(byId("recording").textContent);
  const { effects, frames } = data;
  const [width, height] = data.size;
  const own = effects.map((_, at) => at);

  /** What the stage is doing, for its looks and for whoever looks in; the first speaks for the page. */
  const note = (key, value) => {
    root.dataset[key] = value;
    if (!nth) document.documentElement.dataset[key] = value;
  };
  const stay = (why) => {
    note("live", "off");
    note("why", why);
    byId("why").textContent = why;
  };

  // --- What is shown -----------------------------------------------------------------------------------------------

  /** `set`: for each effect what was moved by hand, by the setting's place. */
  const state = { order: [...own], on: effects.map((effect) => effect.on), set: effects.map(() => ({})) };
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
        else if (kind === "whole") view.setInt32(offset, value, true);
        else if (kind === "choice") view.setUint32(offset, value, true);
        else [1, 3, 5].forEach((digit, channel) => {
          view.setFloat32(offset + 4 * channel, data.levels[parseInt(value.slice(digit, digit + 2), 16)], true);
        });
      }
    }
    derived.forEach(({ at, size, from }, which) => {
      if (!from.some((place) => place in set)) return;
      // The first row of each setting is its own value at this frame.
      const row = from.reduce((row, place) => {
        const { stops } = settings[place];
        return row * (stops.length + 1) + (place in set ? stops.indexOf(set[place]) + 1 : 0);
      }, 0);
      const table = bytesOf(data.tables[frames[nth].tables[effect][which]]);
      bytes.set(table.subarray(row * size, row * size + size), at);
    });
    return bytes;
  };

  // --- Recordings on the GPU ---------------------------------------------------------------------------------------

  let device;
  const compiled = new Map();
  const textures = new Map();
  const pictures = new Map();

  const programOf = async (nth) => {
    if (compiled.has(nth)) return compiled.get(nth);
    const { code, entry, bindings, format } = data.programs[nth];
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
    compiled.set(nth, { pipeline, layout });
    return compiled.get(nth);
  };

  const textureOf = (key, format) => {
    if (!textures.has(key)) {
      const { TEXTURE_BINDING, STORAGE_BINDING, COPY_SRC, COPY_DST, RENDER_ATTACHMENT } = GPUTextureUsage;
      const usage = TEXTURE_BINDING | STORAGE_BINDING | COPY_SRC | COPY_DST | RENDER_ATTACHMENT;
      textures.set(key, device.createTexture({ size: [width, height, 1], format, usage }));
    }
    return textures.get(key);
  };

  const pictureOf = async (nth) => {
    if (!pictures.has(nth)) {
      const [, kind, text] = data.pictures[nth].match(/^data:([^;]*);base64,(.*)$/);
      const exactly = { premultiplyAlpha: "none", colorSpaceConversion: "none" };
      const source = await createImageBitmap(new Blob([bytesOf(text)], { type: kind }), exactly);
      const texture = textureOf(`picture ${nth}`, "rgba8unorm");
      device.queue.copyExternalImageToTexture({ source }, { texture, premultipliedAlpha: false }, [width, height]);
      pictures.set(nth, texture);
    }
    return pictures.get(nth);
  };

  const bufferOf = (bytes, usage) => {
    const size = Math.max(16, Math.ceil(bytes.length / 16) * 16);
    const buffer = device.createBuffer({ size, usage, mappedAtCreation: true });
    new Uint8Array(buffer.getMappedRange()).set(bytes);
    buffer.unmap();
    return buffer;
  };

  /** Records one program over whole pictures; gives the picture that it fills. */
  const dispatched = async (pass, nth, read, bytes, key) => {
    const { pipeline, layout } = await programOf(nth);
    const { bindings, texels, format } = data.programs[nth];
    const into = textureOf(`${key} ${format}`, format);
    const view = (texture) => texture.createView({ dimension: "2d-array" });
    const unread = [...read];
    const resource = {
      picture: () => view(unread.shift() ?? textureOf("unused", "rgba8unorm")),
      settings: () => ({ buffer: bufferOf(bytes, GPUBufferUsage.UNIFORM) }),
      result: () => view(into),
      jobs: () => ({ buffer: bufferOf(new Uint8Array(16), GPUBufferUsage.STORAGE) }),
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
    const none = new Uint8Array(16);
    let now;
    // What is remembered is rendered from the first frame on, and otherwise the frame alone.
    for (let at = data.remembers ? 0 : nth; at <= nth; at++) {
      const fixed = [];
      for (const picture of frames[at].pictures) fixed.push(await pictureOf(picture));
      const encoder = device.createCommandEncoder();
      const pass = encoder.beginComputePass();
      const taken = async (picture, key) =>
        data.takeIn === null ? picture : dispatched(pass, data.takeIn, [picture], none, `taken ${key}`);
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
      let laid = 1;
      for (const [step, after] of frames[at].after.entries()) {
        const bytes = bytesOf(after.bytes);
        if (after.kind === "apply") {
          await applied(after, `after ${after.id || step}`, bytes);
          continue;
        }
        const fixedOne = await taken(fixed[laid], laid);
        laid += 1;
        const read = after.kind === "over" ? [fixedOne, now] : [now, fixedOne];
        now = await dispatched(pass, after.program, read, bytes, `after ${step}`);
      }
      if (at === nth) now = await dispatched(pass, data.giveOut, [now], none, "output");
      pass.end();
      device.queue.submit([encoder.finish()]);
    }
    const bytesPerRow = Math.ceil(width / 64) * 256;
    const { COPY_DST, MAP_READ } = GPUBufferUsage;
    const buffer = device.createBuffer({ size: bytesPerRow * height, usage: COPY_DST | MAP_READ });
    const encoder = device.createCommandEncoder();
    encoder.copyTextureToBuffer({ texture: now }, { buffer, bytesPerRow }, [width, height, 1]);
    device.queue.submit([encoder.finish()]);
    await buffer.mapAsync(GPUMapMode.READ);
    const padded = new Uint8Array(buffer.getMappedRange());
    const bytes = new Uint8ClampedArray(width * height * 4);
    for (let row = 0; row < height; row++) {
      bytes.set(padded.subarray(row * bytesPerRow, row * bytesPerRow + width * 4), row * width * 4);
    }
    buffer.destroy();
    return bytes;
  };

  let isBusy = false;
  let isWanted = false;
  /** Draws what is shown now; called again meanwhile, it draws once more when it is done. */
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

  // --- What a reader does ------------------------------------------------------------------------------------------

  const path = byId("path");
  const placeIn = (order, at) => order.indexOf(at);
  const holds = (order, [before, after]) => placeIn(order, before) < placeIn(order, after);

  const tell = () => {
    const { order } = state;
    const code = codeOf(order);
    const family = data.families.find(({ facts }) => facts.every((fact) => holds(order, fact)));
    const look = data.looks?.[code];
    const parts = [code, family && `family “${family.name}”`, look && `look ${look}`];
    if (code === codeOf(own)) parts.push("the file’s own order");
    byId("said").textContent = parts.filter(Boolean).join(" · ");
    byId("toml").value = toml();
    for (const button of root.querySelectorAll("[data-pair]")) {
      const [a, b] = button.dataset.pair.split(" ").map(Number);
      const [under, over] = holds(order, [a, b]) ? [a, b] : [b, a];
      button.querySelector(".words").textContent = `${effects[under].label} under ${effects[over].label}`;
    }
    for (const link of nth ? [] : document.querySelectorAll("a[data-code]")) {
      link.toggleAttribute("aria-current", link.dataset.code === code);
    }
  };

  const changed = () => {
    tell();
    draw();
  };

  const setOrder = (order, isFromAddress = false) => {
    state.order = order;
    const focused = document.activeElement;
    // What is dragged stays in the page, or the pointer would be lost: the others go round it.
    const dragged = path.querySelector(".moving")?.closest("li") ?? null;
    let isBehind = dragged === null;
    for (const card of order.map((at) => path.querySelector(`[data-effect="${at}"]`))) {
      if (card === dragged) isBehind = true;
      else path.insertBefore(card, isBehind ? null : dragged);
    }
    if (path.contains(focused)) focused.focus();
    if (isOnly && !isFromAddress) history.replaceState(null, "", `#${codeOf(order)}`);
    changed();
  };

  const moveTo = (effect, place) => {
    const order = state.order.filter((at) => at !== effect);
    order.splice(Math.max(0, Math.min(order.length, place)), 0, effect);
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

  const rounded = (number) => String(Number(number.toFixed(4)));
  const valueSaid = (setting, value) => setting.kind === "choice" ? setting.words[value]
    : setting.kind === "colour" ? value : `${setting.before}${rounded(value * setting.scale)}${setting.behind}`;

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
      const nearest = (value) => stops.reduce((best, stop, nth) =>
        Math.abs(stop - value) < Math.abs(stops[best] - value) ? nth : best, 0);
      const reach = stops ? { min: 0, max: stops.length - 1, step: 1, value: nearest(setting.value) }
        : { min: range[0], max: range[1], step: kind === "whole" ? 1 : "any", value: setting.value };
      const told = () => stops ? stops[Number(field.value)] : Number(Number(field.value).toPrecision(4));
      field = made("input", { id, type: "range", ...reach, oninput: () => {
        set(told());
        field.setAttribute("aria-valuetext", said.textContent);
      } });
      field.setAttribute("aria-valuetext", said.textContent);
    }
    return made("p", { title: help }, made("label", { for: id }, label), field, said);
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
        moveTo(at, placeIn(state.order, at) + by);
      },
      onpointerdown: (event) => {
        grip.setPointerCapture(event.pointerId);
        grip.classList.add("moving");
      },
      onpointermove: (event) => {
        if (!grip.hasPointerCapture(event.pointerId)) return;
        const under = document.elementFromPoint(event.clientX, event.clientY)?.closest(".path > li");
        if (under?.parentElement === path && under.dataset.effect !== String(at)) moveTo(at, placeIn(state.order, Number(under.dataset.effect)));
      },
      onlostpointercapture: () => grip.classList.remove("moving"),
    }, made("span", { class: `chip mark-${mark}` }, mark), made("span", {}, label));
    const toggle = made("input", { type: "checkbox", "aria-label": `${label} is on`, onchange: () => {
      state.on[at] = toggle.checked;
      changed();
    } });
    toggle.checked = state.on[at];
    const card = made("li", { "data-effect": at }, made("div", { class: "head" }, grip, toggle));
    if (settings.length) {
      const inside = settings.map((_, place) => settingOf(at, place));
      card.append(made("details", {}, made("summary", {}, "Settings"), ...inside));
    }
    return card;
  };

  const compare = () => {
    other = other ? null : structuredClone(state);
    root.toggleAttribute("data-comparing", other !== null);
    byId("compare").textContent = other ? "Stop comparing" : "Compare with this order";
    byId("other-said").textContent = other ? codeOf(other.order) : "";
    wipe();
    draw();
  };

  const wipe = () => {
    const share = byId("wipe").value;
    byId("other").style.clipPath = root.hasAttribute("data-beside") ? "" : `inset(0 ${100 - share}% 0 0)`;
  };

  let clock = null;
  const showFrame = (nth) => {
    frame = nth;
    byId("beat").value = nth;
    byId("beat-said").textContent = frames[nth].beat;
    draw();
  };
  const play = () => {
    byId("play").textContent = clock ? "Play" : "Pause";
    if (clock) {
      clearInterval(clock);
      clock = null;
    } else {
      clock = setInterval(() => isBusy || showFrame((frame + 1) % frames.length), data.milliseconds);
    }
  };

  const wire = () => {
    path.replaceChildren(...own.map(cardOf));
    byId("compare").addEventListener("click", compare);
    byId("wipe").addEventListener("input", wipe);
    byId("beside").addEventListener("change", (event) => {
      root.toggleAttribute("data-beside", event.target.checked);
      wipe();
    });
    byId("own").addEventListener("click", () => {
      state.on = effects.map((effect) => effect.on);
      state.set = effects.map(() => ({}));
      path.replaceChildren(...own.map(cardOf));
      setOrder([...own]);
    });
    byId("copy").addEventListener("click", async () => {
      byId("toml").select();
      // Where the browser keeps the clipboard to itself, the text stands selected.
      const copied = await navigator.clipboard?.writeText(byId("toml").value).then(() => true, () => false);
      byId("copied").textContent = copied ? "Copied." : "Selected: copy it from there.";
    });
    if (frames.length > 1) {
      byId("beat").max = frames.length - 1;
      byId("beat").value = frame;
      byId("beat").addEventListener("input", () => showFrame(Number(byId("beat").value)));
      // Who asked for less motion steps by hand.
      const isStill = matchMedia("(prefers-reduced-motion: reduce)").matches;
      byId("play").hidden = isStill;
      byId("play").addEventListener("click", play);
    } else {
      byId("moments").remove();
    }
    for (const { fact: [a, b], share } of data.pairs) {
      const button = made("button", { type: "button", "data-pair": `${a} ${b}`, onclick: () => {
        const { order } = state;
        const [first, last] = holds(order, [a, b]) ? [a, b] : [b, a];
        moveTo(last, placeIn(order, first));
      } }, made("span", { class: "words" }), made("span", { class: "share" }, share));
      byId("pairs").append(made("li", {}, button));
    }
    if (!data.pairs.length) byId("pairs").closest("details").remove();
    const fromAddress = () => {
      const order = isOnly && orderOf(decodeURIComponent(location.hash.slice(1)));
      if (order) setOrder(order, true);
      return order;
    };
    addEventListener("hashchange", fromAddress);
    if (!fromAddress()) changed();
    byId("beat-said")?.append(frames[frame].beat);
  };

  const start = async () => {
    device = await sharedDevice();
    device.lost.then(({ message }) => stay(`the graphics processor was lost${message ? ` (${message})` : ""}`));
    device.addEventListener("uncapturederror", ({ error }) => stay(`the graphics processor refused (${error.message})`));
    // All at once: each waits for the same processor, and none for another.
    await Promise.all([...data.programs.keys()].map(programOf).concat(frames[frame].pictures.map(pictureOf)));
    // The first picture first; what can be done with it stands as soon as it does.
    wire();
    while (isBusy) await new Promise((done) => setTimeout(done, 5));
    if (root.dataset.live !== "off") note("live", "on");
  };
  return start().catch((error) => stay(error.message));
};

const stages = [...document.querySelectorAll(".stage")];
// Those further down wait until they are near: each takes its own pictures.
const near = new IntersectionObserver((seen) => {
  for (const { target } of seen.filter(({ isIntersecting }) => isIntersecting)) {
    near.unobserve(target);
    run(target, stages.indexOf(target), stages.length === 1);
  }
}, { rootMargin: "600px" });
stages.forEach((stage, nth) => nth ? near.observe(stage) : run(stage, 0, stages.length === 1));

// A question is answered before its answer opens; what was said stays in the page.
for (const [nth, list] of [...document.querySelectorAll(".choices")].entries()) {
  const answer = list.parentElement.querySelector(":scope > details");
  const verdict = made("p", { role: "status", class: "verdict" });
  for (const [at, choice] of [...list.children].entries()) {
    const said = () => {
      const isRight = at === Number(list.dataset.answer);
      list.parentElement.classList.add("answered");
      verdict.textContent = "Noted. Try it with your own hands, then open the answer.";
      answer.ontoggle = () => verdict.textContent = isRight ? "Fine: that is what happens." : "It comes out otherwise; the answer says why.";
      if (answer.open) answer.ontoggle();
    };
    choice.replaceChildren(made("label", {},
      made("input", { type: "radio", name: `question-${nth}`, onchange: said }), " ", ...choice.childNodes));
  }
  list.after(verdict);
}
