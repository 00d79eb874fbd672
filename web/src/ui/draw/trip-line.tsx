/** The trip of one vehicle as a line over time. */
export function TripLine({ order, compact = false }: { order: string; compact?: boolean }) {
  return <div class="trip-line" data-order={order} data-compact={compact} />;
}
