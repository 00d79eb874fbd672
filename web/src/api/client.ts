// Speaks to the shop's server. Every failure is one typed error that says what class it is of.
// Must not know: the database, the screen.
import type {
  ApiError,
  Arrived,
  Frame,
  Kin,
  Notice,
  Op,
  OpenAnswer,
  PlanChange,
  PullAnswer,
  PushAnswer,
  SignedIn,
  Sister,
  Sisters,
  TlsStatus,
} from "./types";

export const PROTOCOL = "1";

/** The server's answer was not the one hoped for, or none came (status 0). */
export class Failure extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    message: string,
    readonly body: Record<string, unknown> = {},
    readonly retryAfterMs?: number,
  ) {
    super(message);
  }

  /** It may go well later without anybody changing anything. */
  get transient(): boolean {
    return this.status === 0 || this.status === 408 || this.status === 425 || this.status === 429 || this.status >= 500;
  }
}

export interface PullQuery {
  epoch: string;
  after: number;
  hash: string;
  plan: number;
  /** Whose last number is asked for. */
  client: string;
  /** Of the page before, where this is not the first. */
  head?: number;
  head_hash?: string;
}

export interface LiveHandlers {
  frame: (frame: Frame) => void;
  plan: (change: PlanChange) => void;
  /** There is more than this phone has: documents up to `head`, or another plan. */
  head: (head: number, plan?: number) => void;
  notices: () => void;
  open: () => void;
  /** The channel ended; `why` where the server said it. */
  closed: (why?: string) => void;
}

export interface Api {
  push(body: { epoch: string; client: string; device_now: number; ops: Op[]; knows_held: true }): Promise<PushAnswer>;
  pull(query: PullQuery): Promise<PullAnswer>;
  /** What is in work now: to be shown, not to be kept. */
  open(): Promise<OpenAnswer>;
  notices(after: number): Promise<{ notices: Notice[]; read: number }>;
  bindClient(client: string): Promise<void>;
  live(at: { after: number; epoch: string; plan: number }, on: LiveHandlers): () => void;
}

const TIMEOUT_MS = 20_000;

export async function request<T>(method: string, path: string, body?: unknown, retried = false): Promise<T> {
  let answer: Response;
  try {
    answer = await fetch(path, {
      method,
      credentials: "same-origin",
      headers: {
        "X-Turnbuckle-Protocol": PROTOCOL,
        "X-Turnbuckle-Build": __BUILD__,
        ...(body === undefined ? {} : { "Content-Type": "application/json" }),
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
  } catch {
    throw new Failure(0, "unreached", "The shop’s server is not reached.");
  }
  if (answer.status === 401 && !retried && !path.startsWith("/api/v1/auth/")) {
    await refresh();
    return request(method, path, body, true);
  }
  if (!answer.ok) throw await failure(answer);
  if (answer.status === 204) return undefined as T;
  return (await answer.json()) as T;
}

async function failure(answer: Response): Promise<Failure> {
  let said: Partial<ApiError> & Record<string, unknown> = {};
  try {
    said = (await answer.json()) as typeof said;
  } catch {
    // A proxy answered, or nothing could be read: the status says enough.
  }
  const after = Number(answer.headers.get("Retry-After"));
  return new Failure(
    answer.status,
    said.code ?? `http_${answer.status}`,
    said.message ?? `The server answered ${answer.status}.`,
    said,
    after > 0 ? after * 1000 : undefined,
  );
}

let refreshing: Promise<SignedIn> | undefined;
let told: (signed: SignedIn) => void = () => undefined;
export function onRefreshed(what: (signed: SignedIn) => void): void {
  told = what;
}

/** One refresh at a time: a second use of the same token would look like theft. */
export function refresh(): Promise<SignedIn> {
  refreshing ??= request<SignedIn>("POST", "/api/v1/auth/refresh")
    .then((signed) => {
      told(signed);
      return signed;
    })
    .finally(() => {
      refreshing = undefined;
    });
  return refreshing;
}

export const http: Api = {
  push: (body) => request("POST", "/api/v1/sync/push", body),
  open: () => request("GET", "/api/v1/sync/open"),
  pull: (query) =>
    request("GET", `/api/v1/sync/pull?${new URLSearchParams(Object.entries(query).map(([k, v]) => [k, String(v)]))}`),
  notices: (after) => request("GET", `/api/v1/notices?after=${after}`),
  bindClient: (client) => request("POST", "/api/v1/auth/client", { client }),
  live({ after, epoch, plan }, on) {
    const query = new URLSearchParams({
      after: String(after),
      epoch,
      plan: String(plan),
      protocol: PROTOCOL,
      build: __BUILD__,
    });
    const source = new EventSource(`/api/v1/live?${query}`);
    const data = (event: Event): unknown => JSON.parse((event as MessageEvent<string>).data);
    source.addEventListener("open", () => on.open());
    source.addEventListener("frame", (event) => on.frame(data(event) as Frame));
    source.addEventListener("plan", (event) => on.plan(data(event) as PlanChange));
    source.addEventListener("head", (event) => {
      const { head, plan: rev } = data(event) as { head: number; plan?: number };
      on.head(head, rev);
    });
    source.addEventListener("notices", () => on.notices());
    source.addEventListener("end", (event) => {
      source.close();
      on.closed((data(event) as { why?: string }).why);
    });
    // The browser would retry by itself, at the wrong cursor and without backing off.
    source.addEventListener("error", () => {
      source.close();
      on.closed();
    });
    return () => source.close();
  },
};

// Sign-in

export const auth = {
  /** Whom a link would sign in; it is not used up. */
  look: (token: string) =>
    request<{ shop: string; name: string; display: boolean }>("POST", "/api/v1/auth/look", { token }),
  join: (token: string, on: Browser) => request<SignedIn>("POST", "/api/v1/auth/join", { token, ...on }),
  password: (name: string, password: string, on: Browser) =>
    request<SignedIn>("POST", "/api/v1/auth/password", { name, password, ...on }),
  setPin: (pin: string, current?: string) =>
    request<undefined>("POST", "/api/v1/auth/pin", { pin, ...(current ? { current } : {}) }),
  switchTo: (person: string, pin: string, client: string) =>
    request<SignedIn>("POST", "/api/v1/auth/switch", { person, pin, client }),
  me: () => request<SignedIn>("GET", "/api/v1/auth/me"),
  signOut: () => request<undefined>("POST", "/api/v1/auth/sign_out"),
  transfer: (secret?: string) => request<Invitation>("POST", "/api/v1/auth/transfer", secret ? { secret } : {}),
  display: () => request<Invitation>("POST", "/api/v1/auth/display", {}),
  invite: (person: string) => request<Invitation>("POST", "/api/v1/auth/invite", { person }),
  setPassword: (password: string, current: string | undefined, endOthers: boolean) =>
    request<undefined>("POST", "/api/v1/auth/set_password", {
      password,
      ...(current ? { current } : {}),
      end_others: endOthers,
    }),
  devices: () => request<{ devices: Device[] }>("GET", "/api/v1/auth/devices"),
  /** The way over to a sister shop: an address that signs in there. */
  pass: (shop: string) => request<{ link: string }>("POST", `/api/v1/sisters/${shop}/pass`, {}),
  arrive: (pass: string) => request<Arrived>("POST", "/api/v1/auth/arrive", { pass }),
  over: (pass: string, on: Browser) => request<SignedIn>("POST", "/api/v1/auth/over", { pass, ...on }),
  kin: (pass: string, secret?: string) =>
    request<undefined>("POST", "/api/v1/auth/kin", { pass, ...(secret ? { secret } : {}) }),
  forgetDevice: (session: string) => request<undefined>("DELETE", `/api/v1/auth/devices/${session}`),
};

export const sisters = {
  list: () => request<Sisters>("GET", "/api/v1/sisters"),
  add: (code: string) => request<Sister>("POST", "/api/v1/sisters", { code }),
  remove: (id: string) => request<undefined>("DELETE", `/api/v1/sisters/${id}`),
};

/** From which sister shops a person comes over. */
export const kin = {
  of: (person: string) => request<{ kin: Kin[] }>("GET", `/api/v1/people/${person}/kin`),
  end: (person: string, shop: string) => request<undefined>("DELETE", `/api/v1/people/${person}/kin/${shop}`),
};

/** What a browser says of itself when somebody signs in on it. */
export interface Browser {
  device: string;
  client?: string;
}

export interface Invitation {
  link: string;
  token: string;
  qr_svg: string;
  expires_at: number;
}

export interface Device {
  session: string;
  person: string;
  device: string;
  /** The sister shop it came from. */
  from?: string;
  /** A screen on the wall. */
  display: boolean;
  since: number;
  seen_at: number;
  mine: boolean;
}

export const tlsStatus = () => request<TlsStatus>("GET", "/api/v1/tls");
export const readNotices = (upto: number) => request<undefined>("POST", "/api/v1/notices/read", { upto });
export const contact = {
  get: (person: string) => request<{ email?: string | null; mail: boolean }>("GET", `/api/v1/people/${person}/contact`),
  put: (person: string, to: { email?: string; mail: boolean }) =>
    request<undefined>("PUT", `/api/v1/people/${person}/contact`, to),
};
