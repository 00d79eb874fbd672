shop-title = El taller
shop-tab-now = Ahora
shop-tab-measures = Medidas
shop-new-order = Orden nueva
shop-import = Traer las órdenes abiertas
shop-to-setup = Configuración
shop-print = Imprimir
shop-loading = Los vehículos del taller aún no han llegado a este aparato. Aparecen en cuanto se alcance el servidor.
shop-empty = No hay ningún vehículo en el taller. Abra una orden, o traiga las que están abiertas ahora.
shop-no-plan = Todavía no hay plan: no se sabe qué va tarde ni en qué orden hasta que el servidor haga uno.
shop-somebody = alguien
shop-some-card = un trabajo sin nombre
shop-counts = { $count ->
    [0] No hay vehículos en el taller.
    [one] Un vehículo en el taller: { $where }.
   *[other] { $count } vehículos en el taller: { $where }.
  }
shop-counts-expected = { $count ->
    [one] Se espera uno.
   *[other] Se esperan { $count }.
  }

## Quién espera a quién
shop-waits = Quién espera a quién
shop-waits-none = Nadie espera: se trabaja en todos los vehículos.
shop-group-outside = A alguien de fuera del taller
shop-group-unknown = Sin motivo
shop-asked-meanwhile = Pedido, mientras sigue otro trabajo
shop-asked-sentence = { $from } pidió a { $to }: { $what }, { $time }.
shop-wait-asked = espera a { $department } desde { $since } (lo pidió { $from }).
shop-wait-nobody_free = espera a { $department } desde { $since }: nadie está libre.
shop-wait-no_equipment = espera equipo libre en { $department } desde { $since }.
shop-wait-no_equipment-by = espera a { $department } desde { $since }: { $number } le estorba.
shop-wait-nobody_qualified = espera a { $department } desde { $since }: nadie en turno puede hacerlo.
shop-wait-curing = se está secando desde { $since }.
shop-wait-curing-due = se está secando desde { $since }, hasta { $due }.
shop-wait-taken_not_started = lo tomó { $person } y está parado desde { $since }: no ha empezado.
shop-wait-approval = espera aprobación desde { $since }.
shop-wait-approval-due = espera aprobación desde { $since }, prevista { $due }.
shop-wait-parts = espera partes desde { $since }, sin fecha.
shop-wait-parts-due = espera partes desde { $since }, llegan { $due }.
shop-wait-customer = espera al cliente desde { $since }.
shop-wait-customer-due = espera al cliente desde { $since }, previsto { $due }.
shop-wait-away = está fuera desde { $since }.
shop-wait-away-due = está fuera desde { $since }, vuelve { $due }.
shop-wait-stopped = está detenido desde { $since }.
shop-wait-no_reason = está parado desde { $since }; nadie dijo por qué.
shop-wait-no_reason-department = está parado en { $department } desde { $since }; nadie dijo por qué.

## Tarde y por qué
shop-late = Tarde, y por qué
shop-late-none = Según el plan de ahora nada saldrá tarde.
shop-late-unknown = No se sabe hasta que haya un plan.
shop-late-by = { $length } tarde.
shop-promised = Prometido { $time },
shop-ready-about = listo hacia { $time }.
shop-no-finish = sin final a la vista.
shop-why-more = Los { $count } pasos, desde ahora hasta el final

## Qué ocupa qué equipo
shop-holds = Elevadores, máquina, cabina
shop-holds-none = Todavía no hay equipo con nombre.
shop-held-open = Abierto: { $open }.
shop-held-working = { $person } trabaja en { $card }.
shop-held-waits = Espera { $card } ({ $department }), hacia { $time }.
shop-held-idle = Nadie trabaja ahí, y nada está previsto ahí.
shop-held-until = Libre hacia { $time }.
shop-held-free = Libre.
shop-held-next = Sigue { $number }, hacia { $time }.
shop-out-of-service = Fuera de servicio hasta { $time }. { $reason }
shop-inspection-due = La inspección tocaba { $time }.

## Por responder
shop-exceptions = Por responder
shop-exception-owner = Desde { $since }; responde { $owner }.
shop-exception-planner = Desde { $since }; responde quien planifica.
shop-exception-started_early = { $person } empezó «{ $card }» antes de que terminara «{ $about }».
shop-exception-finished_early = { $person } terminó «{ $card }» antes de que terminara «{ $about }».
shop-exception-closed_over_undone = { $person } cerró el vehículo con «{ $card }» cuando dentro falta «{ $about }».
shop-exception-opened_twice = «{ $card }» abriría el vehículo por segunda vez.
shop-exception-not_open = { $person } trabajó en «{ $card }», pero el vehículo no estaba abierto.
shop-exception-two_at_once = { $person } tiene dos trabajos en marcha a la vez.
shop-exception-moved_open = { $person } movió el vehículo estando abierto.
shop-exception-occupied = Hay dos vehículos en el mismo equipo, dice { $person }.
shop-exception-done_by_another = { $person } hizo «{ $card }», que tenía otra persona.
shop-exception-after_end = { $person } trabajó en «{ $card }» después de terminado.
shop-exception-during_hold = { $person } trabajó en «{ $card }» estando retenido.
shop-exception-high_voltage = { $person } trabajó en «{ $card }» con alto voltaje a bordo y sin límite o aislamiento conocido.
shop-exception-unqualified = { $person } hizo «{ $card }» sin la calificación que pide.
shop-exception-out_of_turn = { $person } anotó una etapa que no sigue a la anterior.
shop-answer = Responder
shop-answer-reason = Qué pasó y qué se hizo al respecto
shop-answer-send = Anotarlo en el registro
shop-answer-not = Ahora no
shop-answer-needs-reason = Una respuesta necesita un motivo en palabras.

shop-strings = El taller en el tiempo

## Medidas
shop-measures-title = Medidas
shop-measures-loading = Se lee el registro …
shop-measures-unreached = Las medidas salen del registro del servidor, y el servidor no se alcanza.
shop-measures-span = Del { $from } al { $to }, ambos días incluidos. Las órdenes detenidas no cuentan.
shop-range-from = Desde
shop-range-to = Hasta
shop-range-last = Últimos { $days } días
shop-range-no-day = Una de las dos no es un día.
shop-range-backwards = El primer día está después del último.
shop-csv = Llevarlo como CSV
shop-csv-measure = Medida
shop-csv-part = Parte
shop-csv-unit = Unidad
shop-csv-clock = Reloj
shop-median = Mediana
shop-p90 = Percentil 90
shop-value = Valor
shop-count = Casos
shop-whole = todos
shop-unit-days = días
shop-unit-hours = horas
shop-unit-vehicles = vehículos
shop-unit-hours_per_day = horas por día
shop-unit-share = proporción
shop-clock-calendar = Tiempo de calendario: cuentan noches y fines de semana.
shop-clock-working = Tiempo de trabajo: solo cuentan las horas en que el taller está abierto.
shop-clock-none = Una cuenta o una suma; no corre ningún reloj.
shop-part-rolling = llegan rodando
shop-part-towed_in = llegan en grúa
shop-reason-stopped = detenido
shop-reason-away = fuera
shop-reason-approval = aprobación
shop-reason-parts = partes
shop-reason-customer = el cliente
shop-reason-curing = secado
shop-reason-no_equipment = sin equipo libre
shop-reason-nobody_qualified = nadie calificado
shop-reason-nobody_free = nadie libre
shop-reason-taken_not_started = tomado, sin empezar
shop-reason-no_reason = sin motivo
shop-measure-group-how-long = Cuánto dura una visita
shop-measure-group-hand-off = Entre pedir y tenerlo de vuelta
shop-measure-group-where-time-goes = Adónde se va el tiempo
shop-measure-group-how-much = Cuánto
shop-measure-group-more = Más
measure-keys_to_keys = De llaves a llaves
measure-keys_to_keys-is = Desde que se reciben las llaves hasta que se devuelven, de los vehículos entregados en estos días.
measure-keys_to_authorised = De llaves recibidas a autorizado
measure-keys_to_authorised-is = El primer tramo de las mismas visitas.
measure-authorised_to_ready = De autorizado a listo
measure-authorised_to_ready-is = El segundo tramo: la reparación con todas sus esperas.
measure-ready_to_keys = De listo a llaves devueltas
measure-ready_to_keys-is = El tercer tramo: terminado, pero sin recoger.
measure-promise_kept = Promesas cumplidas
measure-promise_kept-is = Listo para la primera promesa hecha tras la autorización; las posteriores no cuentan.
measure-asked_to_taken = De pedido a tomado
measure-asked_to_taken-is = Desde lo último entre pedido y realmente listo, hasta tomado. Pedir temprano es bueno y aquí no cuesta nada.
measure-asked_to_started = De pedido a empezado
measure-asked_to_started-is = Desde lo último entre pedido y realmente listo, hasta el primer trabajo.
measure-asked_to_handed_back = De pedido a devuelto
measure-asked_to_handed_back-is = Desde lo último entre pedido y realmente listo, hasta que quien pidió tiene el vehículo de vuelta.
measure-touch_clocked = Horas marcadas
measure-touch_clocked-is = Horas en que alguien tenía marcada una tarjeta; dos personas en una cuentan dos veces. No son horas previstas ni vendidas.
measure-touch_sold = Horas vendidas por día
measure-touch_sold-is = Horas vendidas entre días de calendario en el taller, de los vehículos entregados.
measure-waited = De listo a empezado
measure-waited-is = Cuánto estuvieron listas las tarjetas antes de que alguien empezara, por departamento esperado.
measure-wait_by_reason = Espera por motivo
measure-wait_by_reason-is = Cuánto estuvieron parados los vehículos, por el primer motivo que se aplica.
measure-equipment_held = Equipo ocupado
measure-equipment_held-is = Horas con un vehículo abierto encima.
measure-equipment_blocked = Equipo bloqueado
measure-equipment_blocked-is = La parte de esas horas en que el taller estaba abierto y nadie trabajaba en el vehículo.
measure-throughput = Vehículos entregados
measure-throughput-is = Vehículos cuyas llaves se devolvieron.
measure-throughput_sold = Horas vendidas entregadas
measure-throughput_sold-is = Horas vendidas de esos vehículos.
measure-in_process = En el taller
measure-in_process-is = Número medio de vehículos entre llaves recibidas y devueltas, contado sobre todo el tiempo.
