/** Asks the server of the desk; every asking can be given up, and the newest of a kind wins. */

/** What the server says is wrong, in its one line. */
export class Wrong extends Error {}

/** Runs the newest of several pieces of work of one kind; the one before is given up.
 *
 * What was given up answers undefined.
 */
export function newest() {
  let last = null;
  return async (work) => {
    last?.abort();
    const mine = new AbortController();
    last = mine;
    try {
      const answer = await work(mine.signal);
      return mine.signal.aborted ? undefined : answer;
    } catch (error) {
      if (mine.signal.aborted) return undefined;
      throw error;
    }
  };
}

/** Resolves after a while, unless it is given up. */
export function rest(wait_ms, signal) {
  return new Promise((done, failed) => {
    const timer = setTimeout(done, wait_ms);
    signal?.addEventListener("abort", () => {
      clearTimeout(timer);
      failed(new Wrong("given up"));
    });
  });
}

async function fetched(path, query, signal) {
  const address = query ? `${path}?${new URLSearchParams(query)}` : path;
  let answer;
  try {
    answer = await fetch(address, { signal });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Wrong("the desk does not answer: is `terrain desk` still running?");
  }
  if (answer.ok) return answer;
  const said = await answer.json().catch(() => ({}));
  throw new Wrong(said.wrong ?? `the desk answered ${answer.status} to ${path}`);
}

const json = async (path, query, signal) => (await fetched(path, query, signal)).json();

/** The values of an answer of 16 bits each, least byte first, and its headers. */
async function numbers(path, query, signal) {
  const answer = await fetched(path, query, signal);
  const bytes = new DataView(await answer.arrayBuffer());
  const values = new Uint16Array(bytes.byteLength / 2);
  for (let at = 0; at < values.length; at += 1) values[at] = bytes.getUint16(2 * at, true);
  return { values, headers: answer.headers };
}

/** The server as a source of all that the page shows. */
export function asking() {
  return {
    isServed: true,
    ground: () => json("ground.json"),
    about: () => json("about.json"),
    colours: () => json("colours.json"),
    sun: (query, signal) => json("sun.json", query, signal),
    tile: (kind, tile, query, signal) => numbers(`${kind}/${tile}`, query, signal),
    seen: (query, signal) => json("seen.json", query, signal),
    seenPlanes: async (id, signal) => (await numbers(`seen/${id}`, null, signal)).values,
    survey: () => json("survey.json"),
    answer: (query, signal) => json("answer.json", query, signal),
    sky: (altitude_deg, query, signal) => numbers(`sky/${altitude_deg}`, query, signal),
    stream,
    take: (file, query) => `take/${file}?${new URLSearchParams(query)}`,
    taken,
  };
}

/** A file of an address, under the name that it is to be kept by. */
async function taken(address) {
  const answer = await fetched(address);
  const name = answer.headers.get("Content-Disposition").match(/filename="([^"]+)"/)[1];
  return { name, content: await answer.blob() };
}

/** Follows a long answer: `heard` has a function for each event; gives what ends it. */
function stream(kind, query, heard) {
  const events = new EventSource(`${kind}?${new URLSearchParams(query)}`);
  const close = () => events.close();
  for (const name of ["progress", "row"]) {
    events.addEventListener(name, (event) => heard[name](JSON.parse(event.data)));
  }
  events.addEventListener("end", (event) => {
    close();
    heard.end(JSON.parse(event.data));
  });
  events.addEventListener("wrong", (event) => {
    close();
    heard.wrong(JSON.parse(event.data).wrong);
  });
  events.onerror = () => {
    close();
    heard.wrong("the desk stopped answering: ask again");
  };
  return close;
}
