import { language } from "../../text/words";
import { look } from "../../text/looks";

/** What one sees of a vehicle: a chip of its colour, and the words. */
export function Looks({ of }: { of: string | undefined }) {
  const { said, paint } = look(of ?? "", language.value);
  return (
    <span class="look">
      {paint && (
        <svg class="chip" viewBox="0 0 12 12" aria-hidden="true">
          <rect x="1" y="1" width="10" height="10" fill={paint} />
        </svg>
      )}
      {said}
    </span>
  );
}
