/** A source of all that the page shows from data that stand in the page itself; no server. */

const bytesOf = async (text) => {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const opened = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(opened).arrayBuffer();
};

/** Values of 16 bits from base64 of their gzipped bytes. */
export const unpacked = async (text) => new Uint16Array(await bytesOf(text));

const nothing = () => Promise.reject(new Error("this is not in the file: ask the desk"));

/** The name of the light of a day whose mist is the most like the one asked for. */
function nearestLight(planes, { date, end, mist }) {
  const [, asked] = mist.split(":").map(Number);
  const names = Object.keys(planes).filter((name) => name.startsWith(`light ${date} ${end} `));
  const off = (name) => Math.abs(Number(name.split(":")[1]) - asked);
  const level = names.filter((name) => name.includes("level:"));
  if (names.includes(`light ${date} ${end} ${mist}`) || !mist.startsWith("level")) {
    return `light ${date} ${end} ${mist}`;
  }
  return level.sort((one, other) => off(one) - off(other))[0];
}

/** Whether a view has all that a frame looks at; over its top there is sky alone. */
function holds({ azimuth0_deg, altitude_top_deg, width, height, step_deg }, { from_deg, to_deg, low_deg }) {
  const begin = (((from_deg - azimuth0_deg) % 360) + 360) % 360;
  const isWithin = begin + (to_deg - from_deg) <= (width - 1) * step_deg;
  return isWithin && low_deg >= altitude_top_deg - (height - 1) * step_deg;
}

/** What `asking` answers, from what was packed beforehand. */
export function unpacking(packed) {
  const { about, colours, planes, seen } = packed;

  const near = (lat_deg, lon_deg) =>
    seen.find(({ about: { spot } }) => {
      const off = Math.hypot(spot.lat_deg - lat_deg, spot.lon_deg - lon_deg);
      return off < 1e-5;
    });

  /** A plane by its name; of light the one whose mist is nearest to the one asked for. */
  async function tile(kind, number, query = {}) {
    const plane = planes[kind === "light" ? nearestLight(planes, query) : kind];
    if (plane === undefined) return nothing();
    if (typeof plane === "string") return { values: await unpacked(plane), headers: new Headers() };
    const headers = { "X-From-UTC": plane.from_utc, "X-Rows": plane.rows, "X-Cols": plane.cols };
    return { values: await unpacked(plane.data), headers: new Headers(headers) };
  }

  async function sky(altitude_deg) {
    const off = (each) => Math.abs(each.altitude_deg - altitude_deg);
    const found = packed.skies.reduce((best, each) => (off(each) < off(best) ? each : best));
    return { values: await unpacked(found.sky.data), headers: new Headers(found.sky.headers) };
  }

  return {
    isServed: false,
    places: seen.map(({ name, about: { spot } }) => ({ name, ...spot })),
    has: (lat_deg, lon_deg) => near(lat_deg, lon_deg) !== undefined,
    ground: async () => about,
    about: async () => about,
    colours: async () => colours,
    sun: async ({ date, end }) => packed.sun[`${date} ${end}`] ?? nothing(),
    tile,
    seen: async ({ lat_deg, lon_deg, ...frame }) => {
      const view = near(lat_deg, lon_deg) ?? (await nothing());
      if (frame.from_deg === undefined) return view.about;
      return view.toward && holds(view.toward.about, frame) ? view.toward.about : null;
    },
    seenPlanes: async (id) => {
      const views = seen.flatMap((each) => (each.toward ? [each, each.toward] : [each]));
      return unpacked(views.find((each) => each.about.id === id).planes);
    },
    answer: async ({ lat_deg, lon_deg }) => near(lat_deg, lon_deg)?.answer ?? nothing(),
    sky: packed.skies?.length ? sky : nothing,
    stream: () => () => {},
    take: () => "",
  };
}
