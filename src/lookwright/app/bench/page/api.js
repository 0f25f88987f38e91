// Talking to the server: the token in every request, and of several wishes only the newest.

const token = location.hash.slice(1);
export const client = crypto.randomUUID();

export class Fault extends Error {
  constructor(text, status, data) {
    super(text);
    this.status = status;
    this.data = data || {};
  }
}

async function call(path, options) {
  const headers = { "X-Lookwright-Token": token, "X-Client": client, ...options.headers };
  let answer;
  try { answer = await fetch(`/api/${path}`, { ...options, headers, credentials: "omit" }); } catch { throw new Fault("The bench does not answer.", 0, {}); }
  if (answer.ok) return answer;
  let data = {};
  try { data = await answer.json(); } catch { /* no JSON: the status says enough */ }
  throw new Fault(data.error || `the server answers ${answer.status}`, answer.status, data);
}

const posting = (body) => ({ method: "POST", body: JSON.stringify(body || {}), headers: { "Content-Type": "application/json" } });

export const get = async (path) => (await call(path, {})).json();
export const post = async (path, body) => (await call(path, posting(body))).json();

// Binary content, or null when something newer came in at the server.
export async function binary(path, body) {
  const answer = await call(path, posting(body));
  if (answer.status === 204) return null;
  return { headers: answer.headers, bytes: await answer.arrayBuffer() };
}

// Runs one at a time; what is asked meanwhile waits, and only the newest of it is done.
export class Newest {
  constructor(work) {
    this.work = work;
    this.running = false;
    this.waiting = null;
  }

  async ask(...wish) {
    if (this.running) {
      this.waiting = wish;
      return;
    }
    this.running = true;
    try {
      for (let next = wish; next; next = this.waiting) {
        this.waiting = null;
        await this.work(...next);
        if (!this.waiting) break;
      }
    } finally {
      this.running = false;
    }
  }

  drop() { this.waiting = null; }
}

// News from the server, for as long as it lives.
export async function listen(heard, lost) {
  let after = 0;
  for (let misses = 0; misses < 3;) {
    try {
      const news = await get(`events?after=${after}`);
      after = news.at;
      misses = 0;
      delete news.at;
      for (const [topic, content] of Object.entries(news)) {
        try { heard(topic, content); } catch (fault) { console.error(fault); } // a fault of the page is none of the line
      }
    } catch (fault) {
      if (fault instanceof Fault && fault.status === 403) { lost(fault.message); return; }
      misses += 1;
      await new Promise((done) => setTimeout(done, 300 * misses));
    }
  }
  lost("");
}

// A file of this machine, its bytes as they are.
export async function upload(path, file) {
  const headers = { "Content-Type": "application/octet-stream", "X-Name": encodeURIComponent(file.name) };
  return (await call(path, { method: "POST", body: file, headers })).json();
}
