'use strict';
// What is picked is a hole's id; the table, the drawing and the view show it alike.
let picked = null;
const watchers = [];

const ask = id => document.getElementById(id);
const all = selector => [...document.querySelectorAll(selector)];

function pick(id) {
  picked = picked === id ? null : id;
  for (const e of all('[data-hole]')) {
    const on = e.dataset.hole === picked;
    e.classList.toggle('picked', on);
    (e.querySelector('button') || e).setAttribute('aria-pressed', on);
  }
  const row = picked && document.querySelector(`tr[data-hole="${picked}"]`);
  ask('picked').textContent = row ? describe(row) : picked || '';
  for (const w of watchers) w();
}

// The row as a sentence: each figure with its head.
function describe(row) {
  const heads = row.closest('table').tHead.rows[0].cells;
  const parts = [...row.cells].map((c, i) => heads[i].textContent + ' ' + c.textContent);
  return row.dataset.hole + ': ' + parts.slice(1).filter(p => p.trim()).join('; ');
}

for (const e of all('[data-hole]')) {
  e.addEventListener('click', () => pick(e.dataset.hole));
  if (e.tagName === 'circle') e.addEventListener('keydown', k => {
    if (k.key === 'Enter' || k.key === ' ') { k.preventDefault(); pick(e.dataset.hole); }
  });
}

// Tables: sorted by a column, copied as they stand.
const value = cell => cell.firstChild ? cell.firstChild.textContent.trim() : '';
for (const button of all('button.sort')) {
  button.addEventListener('click', () => {
    const th = button.parentNode, table = th.closest('table'), body = table.tBodies[0];
    const of = row => value(row.cells[th.cellIndex]);
    const down = th.getAttribute('aria-sort') === 'ascending';
    for (const h of table.tHead.rows[0].cells) h.removeAttribute('aria-sort');
    th.setAttribute('aria-sort', down ? 'descending' : 'ascending');
    const order = (a, b) => of(a).localeCompare(of(b), 'en', { numeric: true });
    const number = (a, b) => of(a) - of(b);
    const rows = [...body.rows].sort(th.classList.contains('n') ? number : order);
    body.append(...(down ? rows.reverse() : rows));
  });
}

function csv(table) {
  const quote = s => /[",\n]/.test(s) ? '"' + s.replaceAll('"', '""') + '"' : s;
  const line = row => [...row.cells].map(c => quote(value(c))).join(',') + '\r\n';
  return [...table.rows].map(line).join('');
}
for (const button of all('button.copy')) {
  button.addEventListener('click', async () => {
    const text = csv(button.closest('.tabled').querySelector('table'));
    try {
      await navigator.clipboard.writeText(text);
      button.textContent = 'Copied';
    } catch { // a page opened as a file may not be allowed to: let the reader copy it
      const area = document.createElement('textarea');
      area.value = text;
      area.readOnly = true;
      area.setAttribute('aria-label', 'The table as CSV');
      button.replaceWith(area);
      area.select();
      document.execCommand('copy');
    }
  });
}

ask('view')?.addEventListener('toggle', () => start().catch(e => {
  ask('trouble').textContent = 'The view cannot be shown here: ' + e.message;
}), { once: true });

// Reads what encode in scene.go writes.
async function load() {
  const head = JSON.parse(ask('scene-head').textContent);
  const packed = Uint8Array.from(atob(ask('scene-data').textContent), c => c.charCodeAt(0));
  const unzip = new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'));
  const raw = await new Response(unzip).arrayBuffer();
  const n = head.points, even = v => (v + 3) & ~3;
  const shares = new Uint16Array(raw, 0, 3 * n);
  let at = even(6 * n);
  const deviations = new Int16Array(raw, at, n);
  at += even(2 * n);
  const classes = new Uint8Array(raw, at, n);
  const corners = new Int32Array(raw, at + even(n), 3 * head.triangles);
  for (let i = 1; i < corners.length; i++) corners[i] += corners[i - 1];
  // A point's normal is the mean of its triangles', by their area.
  const p = new Float32Array(3 * n), normals = new Float32Array(3 * n);
  for (let i = 0; i < 3 * n; i++) p[i] = head.lo[i % 3] + shares[i] / 65535 * head.size[i % 3];
  for (let t = 0; t < corners.length; t += 3) {
    const [a, b, c] = [3 * corners[t], 3 * corners[t + 1], 3 * corners[t + 2]];
    const to = v => [p[v] - p[a], p[v + 1] - p[a + 1], p[v + 2] - p[a + 2]];
    const n = cross(to(b), to(c));
    for (const v of [a, b, c]) for (let k = 0; k < 3; k++) normals[v + k] += n[k];
  }
  for (let i = 0; i < 3 * n; i += 3) {
    const l = Math.hypot(normals[i], normals[i + 1], normals[i + 2]) || 1;
    for (let k = 0; k < 3; k++) normals[i + k] /= l;
  }
  return { head, p, normals, deviations, classes, corners };
}

const cross = ([a, b, c], [x, y, z]) => [b * z - c * y, c * x - a * z, a * y - b * x];
const unit = a => { const l = Math.hypot(...a); return a.map(v => v / l); };

const shaders = { VERTEX_SHADER: `#version 300 es
uniform mat3 turn; uniform vec3 centre, colours[12]; uniform vec2 scale, shift;
uniform float enlarge, size; uniform vec4 plain;
in vec3 place, normal; in float deviation, kind;
out vec3 colour, eye; out float ideal;
void main() {
  vec3 q = turn * (place + normal * deviation * enlarge - centre);
  gl_Position = vec4(q.xy * scale + shift, -q.z * size, 1);
  gl_PointSize = 2.5;
  eye = q;
  colour = mix(colours[int(kind)], plain.rgb, plain.a);
  ideal = kind > 10.5 && plain.a > 0. ? 0. : 1.; // a point of no surface has no ideal place
}`, FRAGMENT_SHADER: `#version 300 es
precision highp float; uniform float opacity, shade;
in vec3 colour, eye; in float ideal; out vec4 pixel;
void main() {
  if (ideal < .99) discard;
  vec3 n = cross(dFdx(eye), dFdy(eye)); // each triangle is lit by itself, so that edges are sharp
  pixel = vec4(colour * (1. - shade + shade * abs(n.z) / max(length(n), 1e-12)), opacity);
}` };

async function start() {
  const canvas = document.getElementById('gl');
  const gl = canvas.getContext('webgl2', { antialias: true, preserveDrawingBuffer: true });
  if (!gl) throw new Error('it needs WebGL 2');
  const { head, p, normals, deviations, classes, corners } = await load();
  const program = gl.createProgram();
  for (const [type, source] of Object.entries(shaders)) {
    const s = gl.createShader(gl[type]);
    gl.shaderSource(s, source);
    gl.compileShader(s);
    gl.attachShader(program, s);
  }
  gl.linkProgram(program);
  const linked = gl.getProgramParameter(program, gl.LINK_STATUS);
  if (!linked) throw new Error(gl.getProgramInfoLog(program));
  gl.useProgram(program);
  const at = name => gl.getUniformLocation(program, name);
  const rgb = hex => [1, 3, 5].map(k => parseInt(hex.slice(k, k + 2), 16) / 255);
  gl.uniform3fv(at('colours'), head.colours.flatMap(rgb));
  gl.uniform1f(at('size'), 0.4 / Math.hypot(...head.size));
  const middle = head.lo.map((v, k) => v + head.size[k] / 2);
  gl.uniform3fv(at('centre'), middle);

  // What is drawn: points with their attributes (numbers a point, values, type), in what order.
  function shape(data, order) {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    for (const [name, [n, values, type]] of Object.entries(data)) {
      const where = gl.getAttribLocation(program, name);
      gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
      gl.enableVertexAttribArray(where);
      gl.vertexAttribPointer(where, n, type, false, 0, 0);
    }
    if (order) {
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, order, gl.STATIC_DRAW);
    }
    return array;
  }
  const mesh = head.triangles > 0;
  const scan = shape({
    place: [3, p, gl.FLOAT], normal: [3, normals, gl.FLOAT],
    deviation: [1, deviations, gl.SHORT], kind: [1, classes, gl.UNSIGNED_BYTE],
  }, mesh && corners);
  const perCount = head.deviation / 32767; // mm of one step of a deviation
  // Circles, as pairs of points; a picked one as a band from its edge outward.
  const around = (ring, radius, k) => {
    const e = unit(cross(ring.axis, Math.abs(ring.axis[2]) < .9 ? [0, 0, 1] : [1, 0, 0]));
    const f = cross(ring.axis, e);
    const c = Math.cos(k * Math.PI / 36), s = Math.sin(k * Math.PI / 36);
    return ring.centre.map((v, i) => v + radius * (e[i] * c + f[i] * s));
  };
  const strip = (n, point) => [...Array(n).keys()].flatMap(point);
  const flat = values => shape({ place: [3, new Float32Array(values), gl.FLOAT] });
  const circle = r => strip(144, k => around(r, r.radius, k + 1 >> 1));
  const circles = [...head.rings, ...head.holes].flatMap(circle);
  const rings = flat(circles), bands = {};
  const band = r => strip(146, k => around(r, r.radius * (k % 2 ? 1 : 1.3), k >> 1));
  for (const r of head.holes) bands[r.id] = flat(band(r));

  // The camera: three axes of the eye in the part's frame, pixels a millimetre, a shift.
  let turn, zoom, move;
  function faceOn() { turn = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]; zoom = 0; move = [0, 0]; }
  faceOn();
  const names = head.holes.length <= 80 ? head.holes.map(h => {
    const s = document.createElement('span');
    s.textContent = h.id;
    ask('names').append(s);
    return s;
  }) : [];
  const eye = q => turn.map(row => row.reduce((sum, v, k) => sum + v * (q[k] - middle[k]), 0));
  const onScreen = q => {
    const e = eye(q);
    return [canvas.clientWidth / 2 + e[0] * zoom + move[0],
      canvas.clientHeight / 2 - e[1] * zoom - move[1]];
  };

  function draw() {
    const w = canvas.clientWidth, h = canvas.clientHeight, dense = devicePixelRatio || 1;
    if (!w || !h) return;
    const [across, down] = [Math.round(w * dense), Math.round(h * dense)];
    if (canvas.width !== across) canvas.width = across;
    if (canvas.height !== down) canvas.height = down;
    zoom = zoom || .88 * Math.min(w / head.size[0], h / head.size[1]);
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.uniformMatrix3fv(at('turn'), true, turn.flat());
    gl.uniform2f(at('scale'), 2 * zoom / w, 2 * zoom / h);
    gl.uniform2f(at('shift'), 2 * move[0] / w, 2 * move[1] / h);
    const style = (enlarge, plain, opacity) => {
      gl.uniform1f(at('enlarge'), enlarge * perCount);
      gl.uniform4fv(at('plain'), plain);
      gl.uniform1f(at('opacity'), opacity);
    };
    const surface = () => {
      gl.bindVertexArray(scan);
      gl.uniform1f(at('shade'), mesh ? .38 : 0);
      if (mesh) gl.drawElements(gl.TRIANGLES, corners.length, gl.UNSIGNED_INT, 0);
      else gl.drawArrays(gl.POINTS, 0, head.points);
      gl.uniform1f(at('shade'), 0);
    };
    if (ask('scan-on').checked) {
      style(+ask('enlarge').value, [0, 0, 0, 0], 1);
      surface();
    }
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE);
    const dark = matchMedia('(prefers-color-scheme: dark)').matches;
    if (ask('ideal-on').checked) {
      const ideal = ask('scan-on').checked ? .3 : 1;
      if (mesh) {
        style(-1, [.75, .77, .8, 1], ideal);
        surface();
      }
      gl.bindVertexArray(rings);
      style(0, dark && !ask('scan-on').checked ? [1, 1, 1, 1] : [.1, .11, .12, 1], 1);
      gl.drawArrays(gl.LINES, 0, circles.length / 3);
    }
    if (picked && bands[picked]) {
      gl.disable(gl.DEPTH_TEST);
      gl.bindVertexArray(bands[picked]);
      style(0, [.11, .31, .57, 1], .85);
      gl.drawArrays(gl.TRIANGLE_STRIP, 0, 146);
    }
    gl.disable(gl.BLEND);
    names.forEach((s, k) => {
      const hole = head.holes[k], [x, y] = onScreen(hole.centre), r = hole.radius * zoom;
      s.style.left = x + 'px';
      s.style.top = (r < 15 ? y - r - 9 : y) + 'px'; // beside a small hole
      s.className = hole.id === picked ? 'picked' : '';
    });
    canvas.dataset.drawn = Math.round(performance.now());
  }
  let waiting = false;
  const redraw = () => {
    if (!waiting) requestAnimationFrame(() => { waiting = false; draw(); });
    waiting = true;
  };
  watchers.push(redraw);

  // Turns the eye by so many radians about the screen's level and upright axes.
  function spin(level, upright) {
    const [x, y, z] = turn;
    const mix = (a, b, t) => unit(a.map((v, k) => v * Math.cos(t) + b[k] * Math.sin(t)));
    const z1 = mix(z, y, -level), y1 = mix(y, z, level);
    turn = [mix(x, z1, upright), y1, mix(z1, x, -upright)];
  }
  function zoomBy(f) { zoom *= f; move = move.map(v => v * f); }

  const down = new Map();
  let dragged = 0;
  canvas.addEventListener('pointerdown', e => {
    canvas.setPointerCapture(e.pointerId);
    down.set(e.pointerId, [e.clientX, e.clientY]);
    if (down.size === 1) dragged = 0;
  });
  canvas.addEventListener('pointermove', e => {
    const was = down.get(e.pointerId);
    if (!was) return;
    const dx = e.clientX - was[0], dy = e.clientY - was[1];
    dragged += Math.abs(dx) + Math.abs(dy);
    if (down.size > 1) {
      const other = [...down].find(([id]) => id !== e.pointerId)[1];
      const apart = q => Math.hypot(q[0] - other[0], q[1] - other[1]);
      zoomBy(apart([e.clientX, e.clientY]) / Math.max(apart(was), 1));
    }
    if (down.size > 1 || e.buttons & 6 || e.shiftKey) {
      move = [move[0] + dx / down.size, move[1] - dy / down.size];
    } else {
      spin(dy / 150, dx / 150);
    }
    down.set(e.pointerId, [e.clientX, e.clientY]);
    redraw();
  });
  canvas.addEventListener('lostpointercapture', e => down.delete(e.pointerId));
  canvas.addEventListener('contextmenu', e => e.preventDefault());
  canvas.addEventListener('wheel', e => {
    e.preventDefault();
    zoomBy(Math.exp(-e.deltaY / 500));
    redraw();
  }, { passive: false });
  canvas.addEventListener('click', e => {
    if (dragged > 5) return;
    // The nearest hole whose circle, or a finger's width about its centre, holds the click.
    let best = null, nearest = Infinity;
    for (const h of head.holes) {
      const [x, y] = onScreen(h.centre), d = Math.hypot(e.offsetX - x, e.offsetY - y);
      if (d < nearest && d < Math.max(14, 1.2 * h.radius * zoom)) [best, nearest] = [h.id, d];
    }
    if (best) pick(best);
  });
  canvas.addEventListener('keydown', e => {
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const way = ways[e.key];
    if (way && e.shiftKey) move = [move[0] + 20 * way[0], move[1] + 20 * way[1]];
    else if (way) spin(-way[1] * .1, way[0] * .1);
    else if (e.key === '+' || e.key === '=') zoomBy(1.2);
    else if (e.key === '-') zoomBy(1 / 1.2);
    else if (e.key === '0') faceOn();
    else return;
    e.preventDefault();
    redraw();
  });
  ask('enlarge').disabled = !mesh; // a cloud has no normals to move points along
  ask('face-on').addEventListener('click', () => { faceOn(); redraw(); });
  for (const id of ['scan-on', 'ideal-on', 'enlarge']) ask(id).addEventListener('change', redraw);
  new ResizeObserver(redraw).observe(canvas);
  spin(-.5, 0);
  draw();
}
