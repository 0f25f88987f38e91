// Drawing: a still's own code values, looked up in the look's lattice in the shader, one pixel for one pixel.

const VERTEX = `#version 300 es
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1) * 4.0 - 1.0;
  gl_Position = vec4(corner, 0.0, 1.0);
}`;

// Where a fragment lies in the picture, in its own pixels from the top left; outside it is left to the ground.
const PLACE = `
uniform vec4 place;   // left, top, screen pixels for one of the picture, height of the target (-1: rows as in a texture)
uniform ivec2 extent; // width and height of the picture
vec2 spot() {
  float row = place.w < 0.0 ? gl_FragCoord.y : place.w - gl_FragCoord.y;
  return (vec2(gl_FragCoord.x, row) - place.xy) / place.z;
}
ivec2 here() {
  vec2 at = spot();
  ivec2 p = ivec2(floor(at));
  if (p.x < 0 || p.y < 0 || p.x >= extent.x || p.y >= extent.y) discard;
  return p;
}`;

// Code values made for gamma 2.4 (ITU-R BT.1886), sent to a screen that decodes them as sRGB (IEC 61966-2-1): the light
// they mean, encoded for that screen. "decoded" 0 leaves them as they are.
const SCREEN = `
uniform float decoded;
vec3 screened(vec3 code) {
  if (decoded == 0.0) return code;
  vec3 light = pow(code, vec3(decoded));
  return mix(12.92 * light, 1.055 * pow(light, vec3(1.0 / 2.4)) - 0.055, step(0.0031308, light));
}`;

// Tetrahedral lookup by hand: integer textures are fetched exactly and never filtered.
const LATTICE = `#version 300 es
precision highp float; precision highp int; precision highp usampler2D; precision highp usampler3D;
uniform usampler2D source; uniform usampler3D lattice; uniform int size;
${PLACE}${SCREEN}
out vec4 colour;
vec3 node(ivec3 rgb) { return vec3(texelFetch(lattice, rgb.bgr, 0).rgb); }
void main() {
  vec3 f = vec3(texelFetch(source, here(), 0).rgb) * (float(size - 1) / 65535.0);
  ivec3 cell = min(ivec3(f), ivec3(size - 2));
  f -= vec3(cell);
  ivec3 first, second;
  if (f.r >= f.g && f.r >= f.b) first = ivec3(1, 0, 0); else if (f.g >= f.b) first = ivec3(0, 1, 0); else first = ivec3(0, 0, 1);
  if (f.b <= f.g && f.b <= f.r) second = ivec3(1, 1, 0); else if (f.g <= f.r) second = ivec3(1, 0, 1); else second = ivec3(0, 1, 1);
  float high = max(f.r, max(f.g, f.b)), low = min(f.r, min(f.g, f.b)), mid = f.r + f.g + f.b - high - low;
  vec3 found = (1.0 - high) * node(cell) + (high - mid) * node(cell + first)
    + (mid - low) * node(cell + second) + low * node(cell + ivec3(1));
  colour = vec4(screened(found / 65535.0), 1.0);
}`;

const FLAT = `#version 300 es
precision highp float; precision highp int;
uniform sampler2D picture;
${PLACE}${SCREEN}
out vec4 colour;
void main() { colour = vec4(screened(texelFetch(picture, here(), 0).rgb), 1.0); }`;

// The same enlarged by a part of a pixel: neighbours are mixed.
const SMOOTH = `#version 300 es
precision highp float; precision highp int;
uniform sampler2D picture;
${PLACE}${SCREEN}
out vec4 colour;
void main() {
  here();
  colour = vec4(screened(texture(picture, spot() / vec2(extent)).rgb), 1.0);
}`;

const MAP = `#version 300 es
precision highp float; precision highp int;
uniform sampler2D picture; uniform sampler2D colours;
${PLACE}
out vec4 colour;
void main() {
  int at = int(texelFetch(picture, here(), 0).r * 255.0 + 0.5);
  colour = texelFetch(colours, ivec2(at, 0), 0);
}`;

export class Painter {
  constructor(canvas, space) {
    this.canvas = canvas;
    const gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, preserveDrawingBuffer: true });
    if (!gl) throw new Error("This browser has no WebGL2, which the picture needs.");
    this.gl = gl;
    this.space(space);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    gl.bindVertexArray(gl.createVertexArray());
    this.programs = { lattice: this.#program(LATTICE), flat: this.#program(FLAT), smooth: this.#program(SMOOTH), map: this.#program(MAP) };
    this.target = gl.createFramebuffer();
    this.small = gl.createTexture();
    this.full = gl.createTexture();
    this.decoded = 0; // see SCREEN
  }

  // Colour space of the canvas.
  space(name) {
    this.colours = name;
    if ("drawingBufferColorSpace" in this.gl) this.gl.drawingBufferColorSpace = name;
  }

  #program(text) {
    const { gl } = this;
    const program = gl.createProgram();
    for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, text]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, source);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    const places = {};
    const count = gl.getProgramParameter(program, gl.ACTIVE_UNIFORMS);
    for (let i = 0; i < count; i += 1) {
      const { name } = gl.getActiveUniform(program, i);
      places[name] = gl.getUniformLocation(program, name);
    }
    return { program, places };
  }

  #texture(target, old) {
    const { gl } = this;
    const texture = old || gl.createTexture();
    gl.bindTexture(target, texture);
    for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, name, gl.NEAREST);
    for (const name of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, name, gl.CLAMP_TO_EDGE);
    return texture;
  }

  // 16-bit RGB code values of a still.
  source(bytes, width, height, old) {
    const { gl } = this;
    const texture = this.#texture(gl.TEXTURE_2D, old?.texture);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB16UI, width, height, 0, gl.RGB_INTEGER, gl.UNSIGNED_SHORT, new Uint16Array(bytes));
    return { texture, width, height };
  }

  // 16-bit lattice, blue fastest; as a typed array or its bytes.
  lattice(bytes, size, old) {
    const { gl } = this;
    const texture = this.#texture(gl.TEXTURE_3D, old?.texture);
    gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB16UI, size, size, size, 0, gl.RGB_INTEGER, gl.UNSIGNED_SHORT, new Uint16Array(bytes));
    return { texture, size };
  }

  // 8-bit picture: three channels shown as they are, four for colours with alpha, or one for what picks among such.
  picture(bytes, width, height, channels, old) {
    const { gl } = this;
    const texture = this.#texture(gl.TEXTURE_2D, old?.texture);
    const [inner, format] = { 1: [gl.R8, gl.RED], 3: [gl.RGB8, gl.RGB], 4: [gl.RGBA8, gl.RGBA] }[channels];
    gl.texImage2D(gl.TEXTURE_2D, 0, inner, width, height, 0, format, gl.UNSIGNED_BYTE, new Uint8Array(bytes));
    return { texture, width, height };
  }

  free(one) { if (one) this.gl.deleteTexture(one.texture); }

  clear(grey) {
    const { gl } = this;
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.disable(gl.SCISSOR_TEST);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clearColor(grey, grey, grey, 1);
    gl.clear(gl.COLOR_BUFFER_BIT);
  }

  // One picture at a place, cut to a box (all in pixels of the canvas from the top left). "smooth" mixes neighbours of an
  // enlarged picture, else its pixels are squares. What is a map is laid over what is there.
  draw(what, place, box, smooth = false) {
    const { gl, canvas } = this;
    const shown = smooth && what.kind === "lattice" ? { kind: "flat", picture: this.#whole(what) } : what;
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(box.x, canvas.height - box.y - box.h, Math.max(0, box.w), Math.max(0, box.h));
    const over = what.kind === "map";
    if (over) {
      gl.enable(gl.BLEND);
      gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
    }
    this.#run(shown, [place.x, place.y, place.scale, canvas.height], this.decoded, smooth && !over);
    gl.disable(gl.BLEND);
    gl.disable(gl.SCISSOR_TEST);
  }

  // A picture through its lattice, as a texture of its own size.
  #whole(what) {
    const { gl } = this;
    const { width, height } = what.picture;
    this.#onto(this.full, width, height);
    this.#run(what, [0, 0, 1, -1], 0);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    return { texture: this.full, width, height };
  }

  // From here on drawing goes to a texture.
  #onto(texture, width, height) {
    const { gl } = this;
    this.#texture(gl.TEXTURE_2D, texture);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, width, height, 0, gl.RGBA, gl.UNSIGNED_BYTE, null);
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.target);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
    gl.viewport(0, 0, width, height);
  }

  #run(what, place, decoded, smooth = false) {
    const { gl } = this;
    const { program, places } = this.programs[smooth && what.kind === "flat" ? "smooth" : what.kind];
    gl.useProgram(program);
    const { picture } = what;
    gl.uniform4f(places.place, ...place);
    gl.uniform2i(places.extent, picture.width, picture.height);
    if (places.decoded) gl.uniform1f(places.decoded, decoded);
    const bind = (unit, target, texture, name) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(target, texture);
      gl.uniform1i(places[name], unit);
    };
    bind(0, gl.TEXTURE_2D, picture.texture, what.kind === "lattice" ? "source" : "picture");
    if (what.kind === "lattice") {
      bind(1, gl.TEXTURE_3D, what.lattice.texture, "lattice");
      gl.uniform1i(places.size, what.lattice.size);
    }
    if (what.kind === "map") bind(1, gl.TEXTURE_2D, what.colours.texture, "colours");
    const mixed = (how) => {
      gl.activeTexture(gl.TEXTURE0);
      for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, how);
    };
    if (smooth) mixed(gl.LINEAR);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    if (smooth) mixed(gl.NEAREST);
    gl.activeTexture(gl.TEXTURE0);
  }

  // Resolves when all that was drawn so far is there.
  async done() {
    const { gl } = this;
    const fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    do await new Promise((soon) => setTimeout(soon, 1));
    while (gl.getSyncParameter(fence, gl.SYNC_STATUS) === gl.UNSIGNALED);
    gl.deleteSync(fence);
  }

  // The pixels of a picture as drawn, thinned to at most this width: RGBA rows from the top. Nothing waits for them here.
  async read(what, most) {
    const { gl } = this;
    const scale = Math.min(1, most / what.picture.width);
    const width = Math.max(1, Math.round(what.picture.width * scale));
    const height = Math.max(1, Math.round(what.picture.height * scale));
    this.#onto(this.small, width, height);
    this.#run(what, [0, 0, scale, height], 0); // code values, whatever the screen is shown
    const data = new Uint8ClampedArray(width * height * 4);
    const buffer = gl.createBuffer();
    gl.bindBuffer(gl.PIXEL_PACK_BUFFER, buffer);
    gl.bufferData(gl.PIXEL_PACK_BUFFER, data.length, gl.STREAM_READ);
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, 0);
    gl.bindBuffer(gl.PIXEL_PACK_BUFFER, null);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    await this.done();
    gl.bindBuffer(gl.PIXEL_PACK_BUFFER, buffer);
    gl.getBufferSubData(gl.PIXEL_PACK_BUFFER, 0, data);
    gl.bindBuffer(gl.PIXEL_PACK_BUFFER, null);
    gl.deleteBuffer(buffer);
    // readPixels begins with the lowest row.
    const row = width * 4, out = new Uint8ClampedArray(data.length);
    for (let y = 0; y < height; y += 1) out.set(data.subarray((height - 1 - y) * row, (height - y) * row), y * row);
    return { data: out, width, height };
  }
}
