// Passkeys as the browser keeps them (W3C Web Authentication, level 2): asking for one, making one.
// Must not know: the screen.
import { Failure, request } from "../../../api/client";
import type { Passkeys, SignedIn } from "../../../api/types";
import { thisBrowser } from "../session";

interface Asked {
  challenge: string;
  rp_id: string;
  timeout: number;
}

interface Wanted extends Asked {
  rp_name: string;
  user_id: string;
  user_name: string;
  algorithms: number[];
  exclude: string[];
}

/** Where authenticators know a server by its name; an address has none. */
export const byAddress = (host = location.hostname): boolean => /^[\d.]+$|:/.test(host);
export const canHere = (): boolean => !byAddress() && typeof PublicKeyCredential === "function";

const bytes = (text: string): Uint8Array<ArrayBuffer> =>
  Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (one) => one.charCodeAt(0));

const text = (from: ArrayBuffer | null): string =>
  btoa(String.fromCharCode(...new Uint8Array(from ?? new ArrayBuffer(0))))
    .replace(/\+/g, "-")
    .replace(/\//g, "_")
    .replace(/=+$/, "");

/** What the browser says when the person turned back, or there is nothing to show. */
function said(error: unknown): Failure {
  const why = error instanceof DOMException && error.name === "InvalidStateError" ? "passkey_known" : "passkey_none";
  return new Failure(400, why, String(error));
}

export async function signIn(): Promise<SignedIn> {
  const asked = await request<Asked>("POST", "/api/v1/auth/passkey/begin");
  const publicKey = {
    challenge: bytes(asked.challenge),
    rpId: asked.rp_id,
    timeout: asked.timeout,
    userVerification: "required" as const,
  };
  const shown = (await navigator.credentials
    .get({ publicKey })
    .catch((error: unknown) => Promise.reject(said(error)))) as PublicKeyCredential | null;
  if (!shown) throw said("none");
  const answer = shown.response as AuthenticatorAssertionResponse;
  return request<SignedIn>("POST", "/api/v1/auth/passkey", {
    credential: shown.id,
    client_data: text(answer.clientDataJSON),
    authenticator_data: text(answer.authenticatorData),
    signature: text(answer.signature),
    user_handle: text(answer.userHandle),
    ...thisBrowser(),
  });
}

export async function make(name: string, password: string): Promise<Passkeys> {
  const wanted = await request<Wanted>("POST", "/api/v1/auth/passkeys/begin", { password });
  const publicKey: PublicKeyCredentialCreationOptions = {
    challenge: bytes(wanted.challenge),
    rp: { id: wanted.rp_id, name: wanted.rp_name },
    user: { id: bytes(wanted.user_id), name: wanted.user_name, displayName: wanted.user_name },
    pubKeyCredParams: wanted.algorithms.map((alg) => ({ type: "public-key", alg })),
    excludeCredentials: wanted.exclude.map((id) => ({ type: "public-key", id: bytes(id) })),
    // It is found without a name being typed, and the device looks who holds it.
    authenticatorSelection: { residentKey: "required", requireResidentKey: true, userVerification: "required" },
    attestation: "none",
    timeout: wanted.timeout,
  };
  const made = (await navigator.credentials
    .create({ publicKey })
    .catch((error: unknown) => Promise.reject(said(error)))) as PublicKeyCredential | null;
  if (!made) throw said("none");
  const answer = made.response as AuthenticatorAttestationResponse;
  return request<Passkeys>("POST", "/api/v1/auth/passkeys", {
    name,
    client_data: text(answer.clientDataJSON),
    attestation: text(answer.attestationObject),
  });
}

export const list = (): Promise<Passkeys> => request("GET", "/api/v1/auth/passkeys");
export const rename = (id: string, name: string): Promise<Passkeys> =>
  request("PUT", `/api/v1/auth/passkeys/${id}`, { name });
export const remove = (id: string): Promise<Passkeys> => request("DELETE", `/api/v1/auth/passkeys/${id}`);
