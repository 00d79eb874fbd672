// Chosen phrases: one of several, or any of several. A phrase is translated; typed text is not.
interface Some<T extends string> {
  legend: string;
  of: readonly T[];
  words: (one: T) => string;
}

export function OneOf<T extends string>({
  legend,
  of,
  words,
  value,
  onChange,
}: Some<T> & { value: T | undefined; onChange: (to: T) => void }) {
  const name = `one-${legend}`;
  return (
    <fieldset class="choices">
      <legend>{legend}</legend>
      {of.map((one) => (
        <label class="choice" key={one}>
          <input type="radio" name={name} checked={value === one} onChange={() => onChange(one)} />
          {words(one)}
        </label>
      ))}
    </fieldset>
  );
}

export function AnyOf<T extends string>({
  legend,
  of,
  words,
  value,
  onChange,
}: Some<T> & { value: readonly T[]; onChange: (to: T[]) => void }) {
  return (
    <fieldset class="choices">
      <legend>{legend}</legend>
      {of.map((one) => (
        <label class="choice" key={one}>
          <input
            type="checkbox"
            checked={value.includes(one)}
            onChange={() => onChange(value.includes(one) ? value.filter((other) => other !== one) : [...value, one])}
          />
          {words(one)}
        </label>
      ))}
    </fieldset>
  );
}
