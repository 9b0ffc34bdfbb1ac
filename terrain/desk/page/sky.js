/** The sky over a spot, read from the table of the model of scattering; as `terrain.glow` has it. */

const LUMINANCE = [0.2126, 0.7152, 0.0722];
const VIVID = 1.1;
const WHITE_AT = 60;
const KEEP_HUE = 0.55;
const FORWARD = 0.93;
const TO_RADIANS = Math.PI / 180;

/** A half-precision number from its 16 bits. */
function half(bits) {
  const sign = bits & 0x8000 ? -1 : 1;
  const power = (bits >> 10) & 31;
  const rest = bits & 1023;
  if (power === 0) return sign * rest * 2 ** -24;
  return power === 31 ? NaN : sign * (1 + rest / 1024) * 2 ** (power - 15);
}

/** Two layers of light over altitude and azimuth from the sun, already exposed. */
export class SkyTable {
  constructor({ values, headers }) {
    const number = (name) => Number(headers.get(name));
    this.rows = number("X-Rows");
    this.cols = number("X-Cols");
    this.horizon_deg = number("X-Horizon-Deg");
    this.sun_deg = number("X-Sun-Deg");
    this.even = Float32Array.from(values, half);
    this.aureole = this.even.subarray(this.even.length / 2);
    this.broad = (number("X-Asymmetry") - 0.0744) / 0.92;
  }

  /** Light from a direction, linear; altitude as it is seen. */
  light(fromSun_deg, altitude_deg) {
    const share = Math.max(altitude_deg - this.horizon_deg, 0) / (90 - this.horizon_deg);
    const down = Math.min(Math.sqrt(share) * (this.rows - 1), this.rows - 1.001);
    const turned = Math.abs(((((fromSun_deg + 180) % 360) + 360) % 360) - 180);
    const across = Math.min((turned / 180) * (this.cols - 1), this.cols - 1.001);
    const [row, col] = [Math.floor(down), Math.floor(across)];
    const [up, aside] = [down - row, across - col];
    const glow = this.scattered(turned, altitude_deg);
    return [0, 1, 2].map((part) => {
      const read = (r, c) => {
        const at = 3 * (r * this.cols + c) + part;
        return this.even[at] + glow * this.aureole[at];
      };
      const low = read(row, col) * (1 - aside) + read(row, col + 1) * aside;
      const high = read(row + 1, col) * (1 - aside) + read(row + 1, col + 1) * aside;
      return low + up * (high - low);
    });
  }

  scattered(turned_deg, altitude_deg) {
    const [up, sun] = [altitude_deg * TO_RADIANS, this.sun_deg * TO_RADIANS];
    const level = Math.cos(up) * Math.cos(sun) * Math.cos(turned_deg * TO_RADIANS);
    const cosine = Math.sin(up) * Math.sin(sun) + level;
    const lobe = (g) => (1 - g * g) / (4 * Math.PI * (1 + g * g - 2 * g * cosine) ** 1.5);
    return 0.92 * lobe(this.broad) + 0.08 * lobe(FORWARD);
  }

  /** Colour of a direction, three numbers from 0 to 1. */
  colour(fromSun_deg, altitude_deg) {
    return developed(this.light(fromSun_deg, altitude_deg));
  }
}

const curve = (light) => {
  const toned = (light * (2.51 * light + 0.03)) / (light * (2.43 * light + 0.59) + 0.14);
  return Math.min(toned, 1);
};

const encoded = (linear) =>
  linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;

/** Exposed light as colour: the one curve of all our pictures, `terrain.glow.develop`. */
export function developed(light) {
  const grey = Math.max(light.reduce((sum, part, at) => sum + part * LUMINANCE[at], 0), 0);
  const room = grey / Math.max(grey - Math.min(...light), 1e-12);
  const vivid = light.map((part) => Math.max(grey + (part - grey) * Math.min(VIVID, room), 0));
  const peak = Math.max(...vivid, 1e-12);
  const bright = peak ** 2 / (peak ** 2 + WHITE_AT ** 2);
  return vivid.map((part) => {
    const drawn = part + (peak - part) * bright;
    return encoded((1 - KEEP_HUE) * curve(drawn) + (KEEP_HUE * curve(peak) * drawn) / peak);
  });
}
