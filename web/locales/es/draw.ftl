draw-trip = El recorrido en el tiempo
draw-away = fuera
draw-in-words = El recorrido en palabras
draw-keys-in = llaves recibidas
draw-expected = se espera
draw-keys-back = llaves devueltas
draw-promise = promesa
draw-ready-head = Listo hacia
draw-sure-head = Nueve de diez
draw-ready-about = listo hacia { $time }
draw-late = { $length } tarde
draw-late-head = Atraso
draw-from = Desde
draw-what = Qué
draw-length = Cuánto
draw-worked = { $department }: { $card }
draw-worked-by = { $department }: { $card }, { $person }
draw-planned = { $department }: { $card }, previsto
draw-waiting = espera en { $department }
draw-planned-wait = esperaría en { $department }
draw-hold-approval = aprobación
draw-hold-parts = partes
draw-hold-customer = cliente
draw-hold-sublet = trabajo externo
draw-hold-other = retenido
draw-say-in = { $number }: llaves recibidas { $time }.
draw-say-expected = { $number }: se espera { $time }.
draw-say-here = Ahora en { $department }.
draw-say-over = Llaves devueltas { $time }.
draw-say-finish = Listo hacia { $time }.
draw-say-late = { $length } tarde.

draw-strings = El taller en el tiempo
draw-zoom = Cuánto tiempo
draw-zoom-day = 1 día
draw-zoom-three = 3 días
draw-zoom-week = Semana
draw-move = Antes o después
draw-earlier = Antes
draw-later = Después
draw-now = Hoy
draw-now-at = ahora { $time }
draw-all-vehicles = Los { $count } vehículos
draw-shown-worth = { $count ->
    [0] Ningún vehículo está atrasado ni ocupa equipo.
    [one] Un vehículo atrasado o que ocupa equipo.
   *[other] { $count } vehículos atrasados o que ocupan equipo.
  }
draw-shown-all = { $count ->
    [one] Un vehículo.
   *[other] Los { $count } vehículos.
  }
draw-vehicle = Vehículo
draw-where = Dónde está
draw-working-since = desde { $time }
draw-waits-since = espera desde { $time }
draw-key-worked = lo que fue; grueso donde se trabajó
draw-key-plan = previsto
draw-key-sure = ocho de cada diez veces termina en este tramo; una de diez, después
draw-key-band = equipo ocupado; rayado mientras nadie trabaja ahí
draw-strings-table = Lo mismo en palabras
draw-key-promise = promesa; lo que sigue va tarde
draw-promise-head = Promesa
