// The plan: draws, picks, snaps and measures. It owns no data: every edit goes out as a small command.
const TOOLS = [
  ["pick", "Pick", "1", "Pick objects, drag to move, drag a corner to reshape"],
  ["run", "Conductor", "2", "Draw a conductor: click point by point, Enter ends"],
  ["rod", "Rod", "3", "Place a rod"],
  ["mat", "Mat", "4", "Draw the outline of a meshed mat, Enter closes"],
  ["cover", "Cover", "5", "Draw an area of surface cover, Enter closes"],
  ["line", "Profile", "6", "Draw a line along which voltages are shown"],
  ["cut", "Section", "8", "Draw a section in depth: two clicks"],
  ["fence", "Fence", "9", "Draw a fence: click corner by corner, Enter ends; click the first corner to close"],
  ["gate", "Gate", "0", "Draw a gate: click both posts, the hinge first"],
  ["item", "Equipment", "e", "Place equipment; what it is and how it is joined is stated in the panel"],
  ["trim", "Trim", "7", "Cut out a piece of conductor between crossings, or a mesh line"],
];
const MAPS = [["touch", "Touch"], ["step", "Step"], ["potential", "Potential"], ["none", "No map"]];
const FAN = [0, 75, -75, 150, -150];
const AREAS = ["mat", "cover"];
const SPOTS = { rod: "add_rod", item: "add_item" };
const TWO = ["gate", "cut"];
const LENGTHS = { m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, feet: 0.3048, "'": 0.3048, in: 0.0254, '"': 0.0254 };
// one coordinate as typed: 12.5, 40 ft, 3' 6", 600 mm; NaN when it is none
function metres(text) {
  const t = text.trim().replace(/^\+/, "");
  if (/^-?(\d+\.?\d*|\.\d+)(e-?\d+)?$/i.test(t)) return Number(t);
  const both = t.match(/^(-?)(\d+)\s*(?:ft|feet|')\s*(\d+\.?\d*)\s*(?:in|"|'')$/i);
  if (both) return (both[1] ? -1 : 1) * (both[2] * 0.3048 + both[3] * 0.0254);
  const one = t.match(/^(-?(?:\d+\.?\d*|\.\d+))\s*(mm|cm|m|ft|feet|in|'|")$/i);
  return one ? one[1] * LENGTHS[one[2].toLowerCase()] : NaN;
}
function places(text) {
  if (/[;,]/.test(text) || /[a-z'"]/i.test(text)) return text.split(/[;,]/).filter((p) => p.trim()).map(metres);
  return text.split(/\s+/).filter(Boolean).map(metres);
}
const fmt = (v, n = 2) => (Number.isFinite(v) ? v.toFixed(n).replace("-", "−") : "–");

function unpack(raster) {
  const text = atob(raster.data), bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return { ...raster, values: new Uint16Array(bytes.buffer) };
}
function sample(r, x, y) {
  const u = (x - r.x0) / r.dx, v = (y - r.y0) / r.dy, i = Math.round(u), j = Math.round(v);
  if (i < 0 || j < 0 || i >= r.nx || j >= r.ny) return NaN;
  const value = r.values[j * r.nx + i];
  return value === 65535 ? NaN : value / 1000;
}
function footOn(p, a, b) {
  const dx = b[0] - a[0], dy = b[1] - a[1], l2 = dx * dx + dy * dy;
  const t = l2 ? Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / l2)) : 0;
  return [a[0] + t * dx, a[1] + t * dy];
}
function crossing(a, b, c, d) {
  const rx = b[0] - a[0], ry = b[1] - a[1], sx = d[0] - c[0], sy = d[1] - c[1], n = rx * sy - ry * sx;
  if (Math.abs(n) < 1e-12) return null;
  const t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / n, u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / n;
  return t >= 0 && t <= 1 && u >= 0 && u <= 1 ? [a[0] + t * rx, a[1] + t * ry] : null;
}
const gap = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

export default {
  template: `
<div class="eg-plan">
  <div class="eg-bar" role="toolbar" aria-label="Plan tools">
    <button v-for="t in tools" :key="t[0]" type="button" :aria-pressed="tool === t[0]" :title="t[3] + ' (' + t[2] + ')'"
      :data-tool="t[0]" @click="choose(t[0])">{{ t[1] }}</button>
    <span class="eg-gap"></span>
    <button type="button" :disabled="!picked.length" title="Delete what is picked (Delete)" @click="remove">Delete</button>
    <button type="button" title="Show the metal; once more: everything (F)" @click="frames">Fit</button>
    <label title="Snap to a grid of this width">Snap
      <select v-model.number="grid" aria-label="Snap grid"><option v-for="g in [0.1,0.25,0.5,1,2.5,5]" :value="g">{{ g }} m</option><option :value="0">off</option></select>
    </label>
    <label>Map
      <select v-model="map" aria-label="Map over the plan"><option v-for="m in maps" :value="m[0]">{{ m[1] }}</option></select>
    </label>
  </div>
  <div class="eg-sheet" ref="sheet" tabindex="0" role="application" :aria-label="spoken" @keydown="key" @contextmenu.prevent
    @pointerdown="down" @pointermove="hover" @pointerup="up" @pointercancel="lost" @pointerleave="cursor = null" @wheel.prevent="zoom" @dblclick.prevent="finish">
    <svg :width="w" :height="h" aria-hidden="true">
      <defs>
        <pattern id="eg-over" width="7" height="7" patternUnits="userSpaceOnUse" :patternTransform="'rotate(45) scale(' + 1/k + ')'">
          <rect width="7" height="7" class="eg-over-base"/><line x1="0" y1="0" x2="0" y2="7" class="eg-over-line"/></pattern>
        <pattern id="eg-over-key" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="7" height="7" class="eg-over-base"/><line x1="0" y1="0" x2="0" y2="7" class="eg-over-line"/></pattern>
        <pattern id="eg-cover" width="9" height="9" patternUnits="userSpaceOnUse" :patternTransform="'scale(' + 1/k + ')'"><circle cx="2" cy="2" r="0.9" class="eg-cover-dot"/><circle cx="6.5" cy="6.5" r="0.9" class="eg-cover-dot"/></pattern>
      </defs>
      <g class="eg-grid"><path :d="gridPath"/></g>
      <g :transform="frame">
        <path v-if="backdrop && backdrop.lines" class="eg-drawn" :d="backdrop.lines"/>
        <template v-for="i in kinds.cover" :key="i.id"><path class="eg-cover" :class="cls(i)" :d="area(i.points)"/></template>
        <g v-if="bands" :class="stale ? 'eg-stale' : ''">
          <path v-for="(b, n) in bands" :key="n" :class="'eg-band eg-band-' + n" :d="b.path" fill-rule="evenodd"/>
        </g>
        <g v-if="map === 'potential' && layers"><path v-for="l in layers.potential.lines" :key="l.level" class="eg-iso" :class="{strong: Math.round(l.level*20)%5===0}" :d="l.path"/></g>
        <path v-if="bands" class="eg-limit-halo" :d="layers[map].limit"/><path v-if="bands" class="eg-limit" :d="layers[map].limit"/>
        <template v-for="i in kinds.mat" :key="i.id"><path class="eg-wire" :class="cls(i)" :d="i.mesh || area(i.points)"/></template>
        <path class="eg-wire eg-run" :d="plainRuns"/>
        <path v-for="i in pickedRuns" :key="i.id" class="eg-wire eg-run picked" :d="line(i.points)"/>
        <path v-if="backdrop && backdrop.taken" class="eg-wire eg-taken" :d="backdrop.taken"/>
        <path v-for="i in kinds.fence" :key="i.id" class="eg-fence" :class="cls(i)" :d="line(i.points)"/>
        <path v-for="i in kinds.gate" :key="i.id" class="eg-gate" :class="cls(i)" :d="line(i.points)"/>
        <path v-for="i in kinds.line" :key="i.id" class="eg-profile" :class="cls(i)" :d="line(i.points)"/>
        <path v-for="i in kinds.cut" :key="i.id" class="eg-cut" :class="cls(i)" :d="line(i.points)"/>
      </g>
      <template v-for="i in kinds.mat" :key="'r' + i.id"><g class="eg-rod"><path :d="i.rods.map(cross).join('')"/></g></template>
      <g v-if="backdrop && backdrop.rods" class="eg-rod taken"><path :d="backdrop.rods.map(cross).join('')"/></g>
      <g class="eg-item"><g v-for="i in kinds.item" :key="i.id" :transform="at(i.points[0])"><rect x="-5" y="-5" width="10" height="10" :class="cls(i)"/><text v-if="k > 9 || picked.includes(i.id)" :x="tagSide(i) * 8" y="4" :text-anchor="tagSide(i) < 0 ? 'end' : 'start'">{{ i.label.split(",")[0] }}</text></g></g>
      <g class="eg-rod own"><path :data-count="plainRods.length" :d="plainRods.map((i) => cross(i.points[0])).join('')"/><path v-for="i in pickedRods" :key="i.id" class="picked" :d="cross(i.points[0])"/></g>
      <g v-for="m in shownMarks" :key="m.name" class="eg-mark" :class="m.verdict" :transform="at(m.place)" @pointerdown.stop @click.stop="$emit('mark', m.name)">
        <path d="M0 0L-9 -22H9Z" :transform="'rotate(' + m.turn + ')'"/><text :x="m.letterAt[0]" :y="m.letterAt[1]">{{ m.letter }}</text><title>{{ m.words }}</title></g>
      <g v-if="lone" class="eg-handles"><rect v-for="(p, n) in lone.points" :key="n" :x="px(p)[0]-5" :y="px(p)[1]-5" width="10" height="10" rx="2"/></g>
      <g class="eg-dims"><text v-for="(d, n) in dims" :key="n" :transform="d.t">{{ d.text }}</text></g>
      <g v-if="draft.length || ghost" class="eg-rubber"><path :d="rubber"/></g>
      <rect v-if="box" class="eg-box" :x="box[0]" :y="box[1]" :width="box[2]" :height="box[3]"/>
      <g v-if="cursor && snap && tool !== 'pick'" class="eg-snap" :transform="at(cursor)">
        <circle v-if="snap === 'end'" r="7"/><path v-else-if="snap === 'crossing'" d="M-7-7L7 7M-7 7L7-7"/><path v-else-if="snap === 'on'" d="M-7 0H7M0-7V7"/><circle v-else r="2.5" class="dot"/></g>
      <g class="eg-scale" :transform="'translate(16,' + (h-18) + ')'"><path :d="'M0-5V0H' + bar[0]*k + 'V-5'"/><text :x="bar[0]*k/2" y="-6">{{ bar[0] }} m</text></g>
    </svg>
    <div v-if="!items.length && !(backdrop && backdrop.lines)" class="eg-teach"><b>Nothing is drawn yet.</b> Choose <i>Mat</i> (key 4), click the corners of the yard and press Enter: the program fills the outline with a mesh. Then place rods (3) and run conductors (2). Every edit can also be made in the table “Layout”.</div>
    <div v-if="bands" class="eg-legend" aria-hidden="true"><b>{{ map === 'touch' ? 'Touch' : 'Step' }} voltage over its limit</b>
      <span v-for="(b, n) in bands" :key="n"><svg width="22" height="12"><rect width="22" height="12" :class="'eg-key eg-band eg-band-' + n"/></svg>{{ b.high === null ? 'over 100 %' : b.low*100 + '–' + b.high*100 + ' %' }}</span>
      <span><svg width="22" height="12"><path class="eg-limit" d="M0 6H22"/></svg>limit</span><em v-if="stale">of the plan before the last edit</em></div>
  </div>
  <div class="eg-foot">
    <form @submit.prevent="typed"><label>Point <input v-model="entry" ref="entry" class="eg-entry" aria-label="Coordinates: x, y or +dx, dy or a length" placeholder="x, y · +dx, dy · length" spellcheck="false" autocomplete="off"></label></form>
    <output class="eg-read" aria-live="off">{{ reading }}</output>
    <output class="eg-say" aria-live="polite">{{ hint }}</output>
  </div>
</div>`,
  props: { view: Object, backdrop: Object, layers: Object, marks: Array, stale: Boolean, gpr: Number },
  emits: ["edit", "pick", "mark", "undo"],
  data: () => ({ tools: TOOLS, maps: MAPS, tool: "pick", map: "touch", grid: 0.5, w: 800, h: 500, k: 8, o: [60, 440],
    items: [], picked: [], draft: [], cursor: null, snap: "", entry: "", drag: null, ghost: null, box: null, hint: "", rasters: {}, fingers: {} }),
  computed: {
    frame() { return `translate(${this.o[0]},${this.o[1]}) scale(${this.k},${-this.k})`; },
    kinds() { const out = { cover: [], mat: [], run: [], fence: [], gate: [], item: [], line: [], cut: [], rod: [] }; for (const i of this.items) out[i.kind].push(i); return out; },
    // conductors that are not picked are one path of all pieces, rods too: thousands of them stay quick to pan and zoom
    chosen() { return new Set(this.picked); },
    pickedRuns() { return this.kinds.run.filter((i) => this.chosen.has(i.id)); },
    plainRuns() { return this.kinds.run.filter((i) => !this.chosen.has(i.id)).map((i) => this.line(i.points)).join(""); },
    pickedRods() { return this.kinds.rod.filter((i) => this.chosen.has(i.id)); },
    plainRods() { return this.kinds.rod.filter((i) => !this.chosen.has(i.id)); },
    bands() { return this.layers && (this.map === "touch" || this.map === "step") ? this.layers[this.map].bands : null; },
    // marks at one place are fanned out around it, the gravest upright and on top
    shownMarks() {
      const out = []; if (this.map === "none") return out;
      for (const m of [...(this.marks || [])].reverse()) {
        const near = out.filter((o) => gap(this.px(o.place), this.px(m.place)) < 20).length, turn = FAN[near % FAN.length], a = turn * Math.PI / 180;
        out.push({ ...m, turn, letterAt: [15 * Math.sin(a), 4 - 15 * Math.cos(a)] });
      }
      return out.reverse();
    },
    lone() { return this.picked.length === 1 && this.tool === "pick" ? this.items.find((i) => i.id === this.picked[0]) : null; },
    bar() { return [[0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 5000].find((s) => s * this.k >= 70) || 10000]; },
    gridPath() {
      const step = this.bar[0] / 5 * this.k < 9 ? this.bar[0] : this.bar[0] / 5, s = step * this.k; let d = "";
      if (!(s > 3)) return d;
      for (let x = ((this.o[0] % s) + s) % s; x < this.w; x += s) d += `M${x.toFixed(1)} 0V${this.h}`;
      for (let y = ((this.o[1] % s) + s) % s; y < this.h; y += s) d += `M0 ${y.toFixed(1)}H${this.w}`;
      return d;
    },
    rubber() {
      if (this.ghost) return this.ghost;
      const p = [...this.draft, ...(this.cursor ? [this.cursor] : [])].map(this.px);
      return p.length ? "M" + p.map((q) => q.join(" ")).join("L") + (AREAS.includes(this.tool) && p.length > 2 ? "Z" : "") : "";
    },
    dims() {
      let pts = this.draft.length && this.cursor ? [...this.draft, this.cursor] : this.lone && this.lone.points.length > 1 ? this.lone.points : [];
      if (!this.draft.length && this.lone && AREAS.includes(this.lone.kind)) pts = [...pts, pts[0]];
      const out = [];
      for (let n = 1; n < pts.length; n++) {
        const [a, b] = [this.px(pts[n - 1]), this.px(pts[n])]; if (gap(a, b) < 46) continue;
        let angle = Math.atan2(b[1] - a[1], b[0] - a[0]) * 180 / Math.PI; if (angle > 90 || angle <= -90) angle += 180;
        out.push({ t: `translate(${(a[0] + b[0]) / 2},${(a[1] + b[1]) / 2}) rotate(${angle}) translate(0,-6)`, text: fmt(gap(pts[n - 1], pts[n])) + " m" });
      }
      return out;
    },
    reading() {
      if (!this.cursor) return "";
      const [x, y] = this.cursor; let text = `x ${fmt(x)}  y ${fmt(y)} m`;
      if (this.layers) {
        const t = this.value("touch", x, y), s = this.value("step", x, y), v = this.value("potential", x, y);
        text += `   touch ${Number.isFinite(t) ? fmt(t * 100, 0) + " %" : "–"}   step ${Number.isFinite(s) ? fmt(s * 100, 0) + " %" : "–"} of limit`;
        if (Number.isFinite(v)) text += `   surface ${fmt(v * this.layers.gpr_v, 0)} V`;
        if (this.stale) text += " (before the last edit)";
      }
      return text;
    },
    spoken() { return `Plan with ${this.items.length} objects, ${this.picked.length} picked. Tool ${this.tool}. All objects can also be edited in the Layout table.`; },
    targets() {
      const ends = [], legs = [];
      for (const i of this.items) {
        if (i.kind === "mat") { for (const m of (i.mesh || "").matchAll(/M(\S+) ([^L]+)L(\S+) ([^M]+)/g)) legs.push([[+m[1], +m[2]], [+m[3], +m[4]]]); for (const r of i.rods) ends.push(r.slice(0, 2)); }
        for (const p of i.points) ends.push(p);
        if (i.points.length > 1) for (let n = 1; n < i.points.length; n++) legs.push([i.points[n - 1], i.points[n]]);
        if (AREAS.includes(i.kind) && i.points.length > 2) legs.push([i.points[i.points.length - 1], i.points[0]]);
      }
      if (this.backdrop && this.backdrop.lines) {
        ends.push(...this.backdrop.ends); let left = 8000;
        for (const m of this.backdrop.lines.matchAll(/M(\S+) ([^L]+)L(\S+) ([^M]+)/g)) { if (!left--) break; legs.push([[+m[1], +m[2]], [+m[3], +m[4]]]); }
      }
      return { ends, legs };
    },
  },
  watch: {
    view: { handler(v) { this.setView(v); }, immediate: true },
    layers: { handler() { this.rasters = {}; }, immediate: true },
    backdrop(now, before) { if (now && now.bounds && !(before && before.bounds) && !this.touched) this.fit(); },
    picked(v, old) { if (v.length || old.length) this.$emit("pick", [...v]); },
  },
  mounted() {
    this.watcher = new ResizeObserver(() => this.size()); this.watcher.observe(this.$refs.sheet); this.size(); this.fit();
  },
  beforeUnmount() { this.watcher.disconnect(); },
  methods: {
    setView(view) {
      const first = !this.items.length; this.items = Object.freeze((view && view.items) || []); this.revision = view ? view.revision : 0;
      this.picked = this.picked.filter((id) => this.items.some((i) => i.id === id)); this.ghost = null;
      if (first) this.$nextTick(this.fit);
    },
    say(words) { this.hint = words; },
    look(p, map) { this.map = map; this.touched = true; this.k = Math.max(this.k, 14); this.o = [this.w / 2 - this.k * p[0], this.h / 2 + this.k * p[1]]; },
    select(ids) { this.picked = ids.filter((id) => this.items.some((i) => i.id === id)); },
    value(name, x, y) { if (!this.rasters[name]) this.rasters[name] = Object.freeze(unpack(this.layers[name].raster)); return sample(this.rasters[name], x, y); },
    size() { const r = this.$refs.sheet.getBoundingClientRect(); const fresh = this.w !== Math.floor(r.width); this.w = Math.floor(r.width); this.h = Math.floor(r.height); if (fresh && !this.touched) this.fit(); },
    frames() { this.fit(); this.wide = !this.wide; },
    fit() {
      const own = this.view && this.view.bounds, far = this.backdrop && this.backdrop.bounds;
      const b = (this.wide && this.view.all) || own || far; if (!b || !this.w) return;
      const side = 34, top = 34, foot = 76, dx = Math.max(b[2] - b[0], 1), dy = Math.max(b[3] - b[1], 1);
      this.k = Math.max(Math.min((this.w - 2 * side) / dx, (this.h - top - foot) / dy), 0.02);
      this.o = [this.w / 2 - this.k * (b[0] + b[2]) / 2, top + (this.h - top - foot) / 2 + this.k * (b[1] + b[3]) / 2];
    },
    px(p) { return [this.o[0] + this.k * p[0], this.o[1] - this.k * p[1]]; },
    at(p) { const q = this.px(p); return `translate(${q[0]},${q[1]})`; },
    line(p) { return "M" + p.map((q) => q[0] + " " + q[1]).join("L"); },
    area(p) { return this.line(p) + "Z"; },
    cross(r) { const [x, y] = this.px(r), s = 5; return `M${x - s} ${y}a${s} ${s} 0 1 0 ${2 * s} 0a${s} ${s} 0 1 0 ${-2 * s} 0M${x - s} ${y}H${x + s}M${x} ${y - s}V${y + s}`; },
    // a tag stands at the right of its square, or at the left where another square is in its way
    tagSide(i) {
      if (this.kinds.item.length > 300) return 1;
      const p = this.px(i.points[0]), long = 14 + 6.5 * i.label.split(",")[0].length;
      const taken = (s) => this.kinds.item.some((o) => { const q = this.px(o.points[0]), d = s * (q[0] - p[0]); return o !== i && d > -1 && d < long && Math.abs(q[1] - p[1]) < 10; });
      return taken(1) && !taken(-1) ? -1 : 1;
    },
    cls(i) { return this.chosen.has(i.id) ? "picked" : ""; },
    choose(tool) { this.tool = tool; this.draft = []; this.ghost = null; this.hint = TOOLS.find((t) => t[0] === tool)[3]; if (tool !== "pick") this.picked = []; this.$refs.sheet.focus(); },
    raw(e) { const r = this.$refs.sheet.getBoundingClientRect(); return [e.clientX - r.left, e.clientY - r.top]; },
    world(q) { return [(q[0] - this.o[0]) / this.k, (this.o[1] - q[1]) / this.k]; },
    snapped(e, from) {
      const p = this.world(this.raw(e)), reach = 9 / this.k; let best = null, kind = "";
      if (!e.altKey) {
        for (const q of this.targets.ends) { const d = gap(p, q); if (d < reach && (!best || d < gap(p, best))) { best = q; kind = "end"; } }
        if (!best) {
          const near = this.targets.legs.filter((l) => gap(p, footOn(p, l[0], l[1])) < reach).slice(0, 24);
          for (let i = 0; i < near.length; i++) for (let j = i + 1; j < near.length; j++) { const c = crossing(...near[i], ...near[j]); if (c && gap(c, p) < reach && (!best || gap(c, p) < gap(best, p))) { best = c; kind = "crossing"; } }
          if (!best && near.length) { best = footOn(p, ...near[0]); kind = "on"; if (this.grid) { const g = this.round(p), f = footOn(g, ...near[0]); if (gap(f, p) < 2 * reach) best = f; } }
        }
      }
      let q = best ? [...best] : this.grid && !e.altKey ? this.round(p) : p;
      if (e.shiftKey && from) { q = Math.abs(p[0] - from[0]) > Math.abs(p[1] - from[1]) ? [q[0], from[1]] : [from[0], q[1]]; kind = kind || "grid"; }
      this.snap = kind || (this.grid ? "grid" : ""); return q.map((v) => Math.round(v * 1e4) / 1e4);
    },
    round(p) { return p.map((v) => Math.round(v / this.grid) * this.grid); },
    hit(e) { return this.found(this.world(this.raw(e)), 7 / this.k, ["rod", "item", "gate", "run", "cut", "line", "fence", "mat", "cover"]); },
    near(p) { return this.found(p, 0.5, ["run", "mat"]); },
    found(p, reach, order) {
      for (const kind of order) for (const i of this.kinds[kind]) {
        if (i.points.length === 1) { if (gap(p, i.points[0]) < 1.3 * reach) return i; continue; }
        const pts = AREAS.includes(kind) ? [...i.points, i.points[0]] : i.points;
        for (let n = 1; n < pts.length; n++) if (gap(p, footOn(p, pts[n - 1], pts[n])) < reach) return i;
        if (kind === "mat") for (const m of (i.mesh || "").matchAll(/M(\S+) ([^L]+)L(\S+) ([^M]+)/g)) if (gap(p, footOn(p, [+m[1], +m[2]], [+m[3], +m[4]])) < reach) return i;
      }
      return null;
    },
    // what is drawn new refers to nothing on the plan, so it fits any state of it: quick drawing is never refused
    edit(command) { this.$emit("edit", command.do.startsWith("add_") ? command : { ...command, revision: this.revision }); },
    down(e) {
      this.$refs.sheet.focus(); this.$refs.sheet.setPointerCapture(e.pointerId); this.touched = true;
      if (e.pointerType === "touch") {
        this.fingers[e.pointerId] = this.raw(e);
        if (Object.keys(this.fingers).length > 1) { this.drag = this.ghost = this.box = null; if (this.fresh) this.draft.pop(); this.fresh = false; return this.pinch(); }
      }
      if (e.button) { this.drag = { pan: true, at: this.raw(e), o: [...this.o] }; return; }
      if (this.tool === "pick") return this.grab(e);
      if (this.tool === "trim") { const i = this.hit(e); if (i) this.edit({ do: "trim", item: i.id, at: this.world(this.raw(e)) }); else this.say("Click on a conductor or a mesh line."); return; }
      const p = this.snapped(e, this.draft[this.draft.length - 1]), before = this.draft.length;
      if (e.pointerType === "touch" && SPOTS[this.tool]) { this.drag = { spot: p, at: this.raw(e) }; return; }
      this.add(p); this.fresh = this.draft.length > before;
    },
    // two fingers: zoom about their middle and pan with it
    pinch() {
      const [a, b] = Object.values(this.fingers), mid = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
      this.drag = { pinch: true, gap: Math.max(gap(a, b), 10), mid: this.world(mid), k: this.k };
    },
    lost(e) { delete this.fingers[e.pointerId]; this.drag = this.ghost = this.box = null; },
    add(p) {
      if (SPOTS[this.tool]) return this.edit({ do: SPOTS[this.tool], at: p });
      const d = this.draft; if (d.length && gap(d[d.length - 1], p) < 1e-6) return;
      if (d.length > 2 && gap(d[0], p) < 1e-6) { if (!AREAS.includes(this.tool)) this.draft.push(p); return this.finish(); }
      this.draft.push(p);
      if (TWO.includes(this.tool) && this.draft.length === 2) this.finish();
    },
    grab(e) {
      const q = this.raw(e);
      if (this.lone) for (let n = 0; n < this.lone.points.length; n++) if (gap(q, this.px(this.lone.points[n])) < 8) { this.drag = { corner: n, item: this.lone, at: q }; return; }
      const i = this.hit(e);
      if (!i) { this.drag = { box: q, keep: e.shiftKey ? [...this.picked] : [] }; this.picked = this.drag.keep; return; }
      if (e.shiftKey || e.ctrlKey) { this.picked = this.picked.includes(i.id) ? this.picked.filter((x) => x !== i.id) : [...this.picked, i.id]; return; }
      if (!this.picked.includes(i.id)) this.picked = [i.id];
      this.drag = { move: true, start: this.snapped(e), at: q };
    },
    hover(e) {
      const d = this.drag, q = this.raw(e);
      if (this.fingers[e.pointerId]) this.fingers[e.pointerId] = q;
      if (d && d.spot) return;
      if (d && d.pinch) {
        const [a, b] = Object.values(this.fingers); if (!b) return;
        this.k = Math.min(Math.max(d.k * gap(a, b) / d.gap, 0.02), 400);
        this.o = [(a[0] + b[0]) / 2 - this.k * d.mid[0], (a[1] + b[1]) / 2 + this.k * d.mid[1]]; return;
      }
      if (d && d.pan) { this.o = [d.o[0] + q[0] - d.at[0], d.o[1] + q[1] - d.at[1]]; return; }
      const from = d && d.corner !== undefined ? d.item.points[d.corner] : d && d.move ? d.start : this.draft[this.draft.length - 1];
      this.cursor = this.tool === "pick" && !d ? this.world(q) : this.snapped(e, from);
      if (!d) return;
      if (d.box) { this.box = [Math.min(d.box[0], q[0]), Math.min(d.box[1], q[1]), Math.abs(q[0] - d.box[0]), Math.abs(q[1] - d.box[1])]; return; }
      if (gap(q, d.at) < 4) return; d.live = true;
      if (d.corner !== undefined) { const p = d.item.points.map((r, n) => this.px(n === d.corner ? this.cursor : r)); this.ghost = "M" + p.map((r) => r.join(" ")).join("L") + (AREAS.includes(d.item.kind) ? "Z" : ""); this.hint = ""; }
      else { const by = [0, 1].map((n) => this.cursor[n] - d.start[n]); this.ghost = this.items.filter((i) => this.picked.includes(i.id)).map((i) => { const p = i.points.map((r) => this.px([r[0] + by[0], r[1] + by[1]])); return p.length > 1 ? "M" + p.map((r) => r.join(" ")).join("L") + (AREAS.includes(i.kind) ? "Z" : "") : `M${p[0][0] - 6} ${p[0][1]}h12m-6-6v12`; }).join(""); this.hint = `move by ${fmt(by[0])}, ${fmt(by[1])} m`; }
    },
    up(e) {
      if (e) delete this.fingers[e.pointerId];
      const d = this.drag; this.drag = null; if (!d || d.pinch || d.pan) return;
      if (d.spot) return this.add(d.spot);
      if (d.box) { if (this.box) { const [x, y, w, h] = this.box; const inside = this.items.filter((i) => i.points.every((p) => { const q = this.px(p); return q[0] >= x && q[0] <= x + w && q[1] >= y && q[1] <= y + h; })); this.picked = [...new Set([...d.keep, ...inside.map((i) => i.id)])]; } this.box = null; return; }
      this.ghost = null; if (!d.live) return;
      if (d.corner !== undefined) this.edit({ do: "move_point", item: d.item.id, index: d.corner, to: this.cursor });
      else if (d.move) this.edit({ do: "move", items: [...this.picked], by: [0, 1].map((n) => this.cursor[n] - d.start[n]) });
    },
    zoom(e) { const q = this.raw(e), f = Math.min(Math.max(this.k * Math.exp(-e.deltaY * 0.0015), 0.02), 400) / this.k; this.touched = true; this.o = [q[0] - f * (q[0] - this.o[0]), q[1] - f * (q[1] - this.o[1])]; this.k *= f; },
    finish() {
      const d = this.draft, need = AREAS.includes(this.tool) ? 3 : 2; this.draft = [];
      if (!d.length || !["run", "mat", "cover", "line", "fence", ...TWO].includes(this.tool)) return;
      if (d.length < need) return this.say(`At least ${need} points are needed.`);
      this.edit({ do: "add_" + this.tool, points: d });
    },
    remove() { if (this.picked.length) this.edit({ do: "delete", items: [...this.picked] }); },
    typed() {
      const text = this.entry.trim().replaceAll("−", "-"), last = this.draft[this.draft.length - 1] || (this.lone && this.lone.points[0]) || [0, 0];
      const n = places(text); this.entry = "";
      if (!text) return this.finish();
      if (n.some((v) => !Number.isFinite(v)) || !n.length || n.length > 2) return this.say("Type x, y; or +dx, dy from the last point; or one length toward the cursor. Feet: 40 ft, 26 ft.");
      let p = n;
      if (n.length === 1) { const c = this.cursor || [last[0] + 1, last[1]], g = gap(c, last) || 1; p = [last[0] + n[0] * (c[0] - last[0]) / g, last[1] + n[0] * (c[1] - last[1]) / g]; }
      else if (text.startsWith("+")) p = [last[0] + n[0], last[1] + n[1]];
      if (this.tool === "pick") { if (this.lone) this.edit({ do: "move", items: [this.lone.id], by: [p[0] - this.lone.points[0][0], p[1] - this.lone.points[0][1]] }); else this.say("Pick an object first; its first point moves to what you type."); }
      else if (this.tool === "trim") { const i = this.near(p); if (i) this.edit({ do: "trim", item: i.id, at: p }); else this.say("There is no conductor or mesh line within 0.5 m of that place."); }
      else this.add(p);
    },
    key(e) {
      const tool = TOOLS.find((t) => t[2] === e.key), step = (this.grid || 0.1) * (e.shiftKey ? 10 : 1);
      const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[e.key];
      if (e.ctrlKey || e.metaKey) { if (e.key === "a") { this.picked = this.items.map((i) => i.id); e.preventDefault(); } return; }
      if (tool) this.choose(tool[0]);
      else if (e.key === "Escape") { if (this.draft.length) this.draft = []; else { this.picked = []; this.tool = "pick"; } this.drag = this.ghost = this.box = null; }
      else if (e.key === "Enter") { if (this.draft.length) this.finish(); else this.$refs.entry.focus(); }
      else if (e.key === "Backspace" && this.draft.length) this.draft.pop();
      else if (e.key === "Delete" || e.key === "Backspace") this.remove();
      else if (e.key === "f" || e.key === "F") this.frames();
      else if (e.key === "n" || e.key === "N") { const at = this.items.findIndex((i) => i.id === this.picked[0]); if (this.items.length) { this.picked = [this.items[(at + 1) % this.items.length].id]; this.say(this.lone.label); } }
      else if (by && this.picked.length) this.edit({ do: "move", items: [...this.picked], by });
      else if (by) this.o = [this.o[0] - by[0] / step * 40, this.o[1] + by[1] / step * 40];
      else if (e.key === "+" || e.key === "-") { const f = e.key === "+" ? 1.25 : 0.8, c = [this.w / 2, this.h / 2]; this.o = [c[0] - f * (c[0] - this.o[0]), c[1] - f * (c[1] - this.o[1])]; this.k *= f; }
      else return;
      e.preventDefault();
    },
  },
};
