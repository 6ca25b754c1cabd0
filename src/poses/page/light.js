// The light of the moving lamp; the same materials and shares as the relief pictures have.

const light = (() => {
  const METAL = [0.70, 0.47, 0.26], PATINA = [0.06, 0.042, 0.03];
  const EXPOSURE = 1.4, LAMP = 0.9, FILL = 0.14, AMBIENT = 0.05, GLOSS = 0.6, SOFT = 0.08;
  const FILL_HEIGHT = 12 * Math.PI / 180;

  // sRGB's transfer curve (IEC 61966-2-1), for light from 0 to 2 in 2048 steps.
  const srgb = new Uint8ClampedArray(2049);
  for (let i = 0; i <= 2048; ++i) {
    const linear = i / 1024;
    srgb[i] = 255 * (linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055);
  }
  const power24 = Float32Array.from({length: 1025}, (_, i) => (i / 1024) ** 24);
  const stain = Float32Array.from({length: 256}, (_, code) => {
    const t = Math.min(1, Math.max(0, (0.97 - code / 255) / 0.44));
    return t * t * (3 - 2 * t);
  });

  // Five grey planes under one another: normal x, normal y, open share, piece, height.
  function decode(base64, width, height) {
    return new Promise((done, failed) => {
      const image = new Image();
      image.onload = () => {
        const canvas = document.createElement("canvas");
        canvas.width = width;
        canvas.height = 5 * height;
        const context = canvas.getContext("2d", {willReadFrequently: true});
        context.drawImage(image, 0, 0);
        const pixels = context.getImageData(0, 0, width, 5 * height).data;
        const codes = new Uint8Array(5 * width * height);
        for (let i = 0; i < codes.length; ++i) codes[i] = pixels[4 * i];
        done({width, height, codes});
      };
      image.onerror = () => failed(new Error("a surface picture cannot be read"));
      image.src = "data:image/png;base64," + base64;
    });
  }

  // Half the size, by the mean of four.
  function halved(surface) {
    const width = surface.width >> 1, height = surface.height >> 1;
    const codes = new Uint8Array(5 * width * height);
    let to = 0;
    for (let plane = 0; plane < 5; ++plane) {
      for (let y = 0; y < height; ++y) {
        let from = (plane * surface.height + 2 * y) * surface.width;
        for (let x = 0; x < width; ++x, from += 2) {
          const below = from + surface.width;
          codes[to++] = (surface.codes[from] + surface.codes[from + 1] + surface.codes[below] +
                         surface.codes[below + 1] + 2) >> 2;
        }
      }
    }
    return {width, height, codes};
  }

  // The share of the lamp's light at each pixel. Shade is handed on from one line of pixels to the
  // next, away from the lamp: its upper end sinks by the lamp's slope and is mixed between the two
  // pixels that the ray passes, which softens it the more the farther it falls.
  function litShare(surface, lamp, peak) {
    const {width, height, codes} = surface;
    const peakPx = peak * width;
    const rise = 4 * width * height;
    const towardX = Math.cos(lamp.turn), towardY = -Math.sin(lamp.turn);
    const across = Math.abs(towardX) >= Math.abs(towardY);
    const lines = across ? width : height, count = across ? height : width;
    const lineStep = across ? 1 : width, step = across ? width : 1;
    const major = across ? towardX : towardY;
    const slip = (across ? towardY : towardX) / Math.abs(major);
    const drop = Math.tan(lamp.height) / Math.abs(major);
    const whole = Math.floor(slip), part = slip - whole;
    const lit = new Float32Array(width * height);
    let before = new Float32Array(count), now = new Float32Array(count);
    for (let k = 0; k < lines; ++k) {
      const line = (major > 0 ? lines - 1 - k : k) * lineStep;
      for (let j = 0; j < count; ++j) {
        const a = j + whole, b = a + 1;
        const edge = (1 - part) * (a >= 0 && a < count ? before[a] : 0) +
                     part * (b >= 0 && b < count ? before[b] : 0) - drop;
        const at = line + j * step;
        const own = codes[rise + at] * peakPx / 255;
        const under = (edge - own) / (SOFT * peakPx);
        lit[at] = under <= 0 ? 1 : under >= 1 ? 0 : 1 - under;
        now[j] = edge > own ? edge : own;
      }
      [before, now] = [now, before];
    }
    return lit;
  }

  // Draws the piece into a canvas of the surface's size; see-through where there is none.
  function draw(canvas, surface, lamp, peak) {
    const {width, height, codes} = surface;
    if (canvas.width !== width) canvas.width = width;
    if (canvas.height !== height) canvas.height = height;
    const context = canvas.getContext("2d");
    const picture = context.createImageData(width, height);
    const out = picture.data, size = width * height;
    const lit = litShare(surface, lamp, peak);
    const flat = Math.cos(lamp.height), lz = Math.sin(lamp.height);
    const lx = flat * Math.cos(lamp.turn), ly = flat * Math.sin(lamp.turn);
    const fx = -Math.cos(FILL_HEIGHT) * Math.cos(lamp.turn);
    const fy = -Math.cos(FILL_HEIGHT) * Math.sin(lamp.turn), fz = Math.sin(FILL_HEIGHT);
    const long = Math.hypot(lx, ly, lz + 1);
    const hx = lx / long, hy = ly / long, hz = (lz + 1) / long;
    const exposure = EXPOSURE / (0.6 + 0.95 * lz);  // a high lamp would outshine the form
    for (let i = 0; i < size; ++i) {
      const piece = codes[3 * size + i];
      if (piece === 0) continue;
      const nx = (codes[i] - 128) / 127, ny = (codes[size + i] - 128) / 127;
      const nz = Math.sqrt(Math.max(0, 1 - nx * nx - ny * ny));
      const open = codes[2 * size + i], dark = stain[open], share = lit[i];
      const lamps = Math.max(0, nx * lx + ny * ly + nz * lz) * LAMP * share;
      const rest = Math.max(0, nx * fx + ny * fy + nz * fz) * FILL + AMBIENT * open * open / 65025;
      const halfway = Math.min(1, Math.max(0, nx * hx + ny * hy + nz * hz));
      const gloss = share * GLOSS * (1 - 0.8 * dark) * power24[halfway * 1024 | 0];
      const sum = exposure * (lamps + rest);
      for (let c = 0; c < 3; ++c) {
        const value = (METAL[c] + dark * (PATINA[c] - METAL[c])) * sum + gloss * METAL[c];
        out[4 * i + c] = srgb[value >= 2 ? 2048 : value * 1024 | 0];
      }
      out[4 * i + 3] = piece;
    }
    context.putImageData(picture, 0, 0);
  }

  return {decode, halved, draw};
})();
