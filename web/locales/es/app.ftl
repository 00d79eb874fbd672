### El teléfono: qué hace uno, dónde está un vehículo, por qué espera.

## En todas partes
mine = Lo mío
queue = Fila
vehicles = Vehículos
the-shop = El taller
more = Más
main-places = Lugares
skip = Al contenido
loading = Un momento …
try-again = Intentar de nuevo
part-not-here = Esta parte todavía no está en su teléfono y no se alcanza el servidor del taller.
no-such-page = No hay nada en esta dirección.
back = Atrás
close = Cerrar
save = Guardar
saved = Guardado.
undo = Deshacer
yes = Sí
no = No
choose = Elija …
department = Departamento
somebody = alguien
some-card = un trabajo
since = desde { $time }
about = hacia { $at }
planned = previsto
new = Nuevo:
note = Nota
found = Encontré algo
photo = Foto
photos = Fotos
name = Nombre
password = Contraseña
language = Idioma

## Enviado y sin enviar
not-sent = Sin enviar
count-not-sent = { $count } sin enviar
not-reached-since = Sin servidor desde { $at }
not-reached-now = No se alcanza el servidor del taller. Intente más tarde.
server-error = El servidor contesta con un error. Lo que haga queda guardado en este teléfono.
signed-out-here = Entre otra vez, para que se envíe su trabajo.
almost-full = Este teléfono está casi lleno: las fotos esperan
photo-no-room = La foto no se guardó: este teléfono está casi lleno. Lo que escribió quedó guardado. Haga espacio en el teléfono y tómela otra vez.
update-needed = Esta versión es demasiado vieja para el servidor. Ciérrela y ábrala de nuevo.
update-ready = Hay una versión nueva: toque para cambiar
count-not-accepted = { $count } sin aceptar
count-to-look-at = { $count } por revisar
count-notices = { $count ->
    [one] 1 aviso nuevo
   *[other] { $count } avisos nuevos
  }
sent-again = { $count ->
    [one] El servidor volvió atrás; se envió 1 cosa otra vez.
   *[other] El servidor volvió atrás; se enviaron { $count } cosas otra vez.
  }
understood = (Entendido)
not-kept = Este teléfono no lo pudo guardar. Haga espacio en el teléfono e intente de nuevo.
first-copy = Un momento
first-copy-count = Está llegando la primera copia del taller: { $count } cosas hasta ahora.
first-copy-wait = Los vehículos del taller aún no han llegado a este teléfono. Aparecen en cuanto se alcance el servidor.

## Entrar
sign-in = Entrar
join-instead = Entrar con el enlace que abrió, en lugar de { $name }
lock = Bloquear
sign-in-to-send = { $count ->
    [one] Entre para enviar 1 cosa. Está guardada en este teléfono.
   *[other] Entre para enviar { $count } cosas. Están guardadas en este teléfono.
  }

## Lo mío
also-mine = También mío
nothing-taken = No ha tomado nada. Abajo está lo que le llega.
comes-to = { $department }: lo que sigue
nothing-comes = Aquí no espera nada.
whole-queue = Todo lo de { $department }
need-something = Necesito algo …
i-wait-for = Espero
loop-asked = Pedido
loop-taken = Tomado
loop-begun = Empezado
loop-up = Arriba
loop-back = De vuelta
answer-line = { $number }: { $what } Se espera su respuesta.

## La fila
queue-of = { $department }: fila de trabajo
begun = Empezado
stretch-now = Ahora
stretch-soon = Pronto
stretch-later = Después: { $count }
order-changed = El orden cambió: mostrar
row-late = Tarde
no-place-yet = Su lugar llega con el próximo plan.
why-title = Por qué aquí
why-chain = Lo que espera
why-finish = Por qué el vehículo queda listo entonces
to-vehicle = A { $number }

## Un trabajo
start = Empezar
go-on = Seguir
finish = Terminar
pause = Pausa
take = Tomar
give-back = Devolver
help = Ayudar en esto
ask = Pedir
put-first = Poner primero
assign = Dar a …
cancel-card = Cancelar
life-proposed = Aún sin aprobar.
life-cancelled = Cancelado.
life-ready = Listo para empezar.
life-ready-since = Listo para empezar desde { $since }.
life-done = Hecho.
life-done-by = Lo hizo { $person }, { $at }.
life-working = { $people }: en ello desde { $since }.
life-paused = En pausa desde { $since }.
life-paused-why = En pausa desde { $since }: { $why }.
life-taken = Lo tomó { $person }, { $at }.
life-asked-for = Usted lo pidió; el servidor aún no dice que sí.
life-asked-for-by = Lo pidió { $person }; el servidor todavía no dijo que sí.
life-curing = Se cura hasta cerca de { $until }.
life-after = Espera «{ $card }».
life-after-more = Espera «{ $card }» y { $more } más.
is-put-first = Puesto primero: { $reason }
card-opens = Abre: { $open }.
card-inside = Solo mientras está abierto: { $open }.
card-closes = Cierra: { $open }.
card-one-go = Una vez empezado no se puede dejar para mañana.
card-qualification = Pide la calificación «{ $qualification }».
pause-title = Pausa: ¿por qué?
pause-break = descanso
pause-end_of_shift = fin de turno
pause-parts = espera partes
pause-help = necesita ayuda
pause-question = hay una pregunta
pause-other_work = otro trabajo
pause-break-button = Descanso
pause-end_of_shift-button = Fin de turno
pause-parts-button = Espero partes
pause-help-button = Necesito ayuda
pause-question-button = Tengo una pregunta
pause-other_work-button = Otro trabajo
finish-title = Terminar: { $card }
finish-opens = Después de esto el vehículo queda abierto: { $open }. Se avisa a quienes lo esperan.
checks = Revisado
checks-left = { $count ->
    [one] 1 sin marcar.
   *[other] { $count } sin marcar.
  }
closing-over-undone = Aún no está hecho, y queda tapado al cerrar:
closing-stopped = Termine eso primero, o pregunte a quien lo trabaja.
closing-offline = No se alcanza el servidor: puede que alguien lo haya hecho mientras tanto. Mire antes de cerrar.
close-not-yet = Todavía no: volver
closed-all-the-same = De todos modos, ya está cerrado
correct = Corregir

## Lo que se hizo
did-take = Tomado: { $card }.
did-ask-for = Pedido: { $card }.
did-take-unreached = Pedido: { $card }. Si es suyo se le dice cuando se alcance el servidor.
did-start = Empezado: { $card }.
did-pause = En pausa: { $card }.
did-finish = Terminado: { $card }.
did-give-back = Devuelto: { $card }.
did-help = Usted ayuda en: { $card }.
cancel-title = ¿Cancelar esto?
start-on-title = ¿En cuál?
against-out_of_service = Fuera de servicio.
against-inspection_overdue = Inspección vencida.
against-unsafe_lift = Puntos de apoyo dañados o partes pesadas quitadas.
equipment-title = Elevadores, bancos, cabinas
energy = Alto voltaje
energy-title = { $number }: alto voltaje
energy-is-none = No lleva
energy-is-live = A bordo, conectado
energy-is-isolated = A bordo, aislado y comprobado sin tensión

## Pedir
ask-title = { $number }: pedir
handoff-asked = Nadie lo ha tomado todavía.
handoff-taken = Lo tomó { $person }, { $at }.
handoff-started = Empezado, { $at }.
handoff-open = Abierto desde { $at }: sigan adentro.
handoff-handed_back = Entregado de vuelta, { $at }.
handoff-cancelled = Cancelado.

## Un vehículo
open-line = Abierto: { $open }
stands-at = Está en: { $place }.
stands-unknown = Nadie ha dicho dónde está.
ready-about = Listo hacia { $at }.
late-by = { $length } tarde.
energy-live = Alto voltaje a bordo, conectado.
energy-isolated = Alto voltaje a bordo, aislado.
move = Mover
move-title = { $number }: ¿a dónde?
condition-title = { $number }: cómo está ahora
note-title = { $number }: nota
found-title = { $number }: encontré algo
photo-by = Foto de { $person }, { $at }.
photo-on-this-phone = En este teléfono, sin enviar todavía.
photo-on-own-phone = En otro teléfono suyo, sin enviar todavía.
photo-on-phone-of = En el teléfono de { $person }, sin enviar todavía.
photo-erased = Borrada junto con los datos de quien la tomó.
photo-not-reached = La imagen se muestra cuando se alcance el servidor.
marked = Marcada por { $people }.
photo-not-kept = No era una imagen, o el teléfono no tiene espacio.
photos-kept = { $count ->
    [one] 1 foto guardada
   *[other] { $count } fotos guardadas
  }
fact-rolls = ¿Rueda?
fact-rolls-yes = Rueda.
fact-rolls-no = No rueda.
fact-steers = ¿Gira la dirección?
fact-steers-yes = La dirección gira.
fact-steers-no = La dirección no gira.
fact-brakes = ¿Funcionan los frenos?
fact-brakes-yes = Los frenos funcionan.
fact-brakes-no = Sin frenos.
fact-points = Puntos de levante
fact-points-sound = Puntos de levante en buen estado.
fact-points-doubtful = Puntos de levante dudosos: mire antes de levantar.
fact-points-damaged = Puntos de levante dañados.
points-sound = Buenos
points-doubtful = Dudosos
points-damaged = Dañados
fact-weight = Se quitaron partes pesadas
fact-weight-front = Sin partes pesadas adelante: el equilibrio cambió.
fact-weight-rear = Sin partes pesadas atrás: el equilibrio cambió.
end-front = Adelante
end-rear = Atrás
fact-loose = Suelto, vaciado, desconectado
fact-on = ¿Sobre qué está?
fact-on-wheels = Sobre sus ruedas.
fact-on-dollies = Sobre carritos.
fact-on-stands = Sobre torres.
fact-on-lift = En el elevador.
on-wheels = Ruedas
on-dollies = Carritos
on-stands = Torres
on-lift = Elevador
fact-bolts = Tornillos y partes: { $where }.
fact-keys = Llaves del vehículo: { $where }.
fact-wet = Fresco hasta { $until }: no tocar.
loose-battery_off = Batería desconectada
loose-airbags_off = Bolsas de aire desconectadas
loose-high_voltage_off = Alto voltaje aislado
loose-fuel_drained = Combustible vaciado
loose-coolant_drained = Anticongelante vaciado
loose-brakes_open = Líneas de freno abiertas
loose-refrigerant_out = Sin refrigerante
loose-suspension_loose = Suspensión suelta
loose-steering_loose = Dirección suelta
loose-trim_out = Molduras fuera
loose-seats_out = Asientos fuera
loose-glass_out = Vidrios fuera
loose-battery_off-line = Batería desconectada.
loose-airbags_off-line = Bolsas de aire desconectadas.
loose-high_voltage_off-line = Alto voltaje aislado.
loose-fuel_drained-line = Combustible vaciado.
loose-coolant_drained-line = Anticongelante vaciado.
loose-brakes_open-line = Líneas de freno abiertas.
loose-refrigerant_out-line = Sin refrigerante.
loose-suspension_loose-line = Suspensión suelta.
loose-steering_loose-line = Dirección suelta.
loose-trim_out-line = Molduras fuera.
loose-seats_out-line = Asientos fuera.
loose-glass_out-line = Vidrios fuera.
found-seized = Pegado
found-damaged = Dañado
found-one_time_fasteners = Pide tornillos de un solo uso
found-missing_part = Falta una parte
found-wrong_part = Parte equivocada
found-corrosion = Óxido
found-alignment_owed = Falta alineación
found-calibration_owed = Falta calibración
found-other = Otra cosa

## Buscar
to-setup = Configurar el taller

## Planear
hold = Detener
hold-title = { $number }: detener
hold-set = Detener
hold-what = ¿Qué se espera?
hold-cards = Solo estos (ninguno: todo el vehículo)
hold-blocks = ¿Qué impide?
hold-blocks-start = No se puede empezar el trabajo
hold-blocks-finish = No se puede terminar el trabajo
hold-due = Se espera que termine
hold-approval = Aprobación
hold-parts = Partes
hold-customer = El cliente
hold-sublet = Trabajo fuera
hold-other = Otra cosa
hold-approval-line = Espera aprobación.
hold-parts-line = Espera partes.
hold-customer-line = Espera al cliente.
hold-sublet-line = Está fuera por otro trabajo.
hold-other-line = Detenido.
hold-due-title = { $number }: ¿cuándo llega?
hold-due-other = Otro día
hold-due-set = Se espera entonces
hold-due-line = { $line } Previsto { $due }.
hold-overdue-line = { $line } Se esperaba { $due } y no está.
unhold = Ya no
promise = Promesa
promise-title = { $number }: promesa
stage = Llaves y etapa
stage-title = { $number }: llaves y etapa
stage-undone = { $count ->
    [one] Un trabajo no está hecho: { $card }.
   *[other] { $count } trabajos no están hechos, entre ellos { $card }.
  }
stage-no-more = Su visita terminó.
stage-expected = Se espera.
stage-expected-line = Se espera { $at }.
stage-arrived = Llaves recibidas; aún sin autorizar.
stage-authorised = Autorizado.
stage-away = Fuera por otro trabajo.
stage-ready = Listo: las llaves pueden volver.
stage-delivered = Llaves devueltas.
stage-stopped = Parado.
stage-stopped-why = Parado: { $reason }
stage-arrived-button = Llaves recibidas
stage-authorised-button = Autorizado
stage-away-button = Sale por otro trabajo
stage-ready-button = Listo
stage-delivered-button = Llaves devueltas
stage-stopped-button = Parado (pérdida total, retirado)
put-first-title = Poner primero
put-first-why = Por qué (todos lo leen)
until-two_hours = Dos horas
until-today = Fin de hoy
until-tomorrow = Fin de mañana
until-week = Una semana
assign-title = Dar a
correct-title = Corregir las horas
answer = Contestar
answer-title = Contestar
add-card = Agregar trabajo
add-card-title = { $number }: agregar trabajo

## Por qué en este lugar
nth = Número { $place }
nth-1 = Primero
nth-2 = Segundo
nth-3 = Tercero
nth-4 = Cuarto
nth-5 = Quinto
nth-6 = Sexto
why-placed = { $nth }: { $reason }
why-put-first = puesto primero por { $person } hasta { $until }: { $reason }.
why-next = { $number } sigue a { $department } hacia { $at }.
why-next-only = { $number } va a { $department } hacia { $at } y solo espera esto.
why-now = Se puede empezar ya.
why-started = Se está trabajando.
why-after = Va después de «{ $card }», hacia { $until }.
why-vehicle = En el vehículo se trabaja «{ $card }» hasta cerca de { $until }.
why-vehicle-ahead = En el vehículo se trabajará «{ $card }» hasta cerca de { $until }.
why-curing = Se cura hasta cerca de { $until }.
why-curing-ahead = Va después de un curado que termina hacia { $until }.
why-shift = El trabajo sigue { $until }.
why-expected = El vehículo llega hacia { $until }.
why-people = Alguien de { $department } queda libre hacia { $until }.
why-equipment = { $equipment } queda libre hacia { $until }.
why-equipment-order = { $number } ocupa { $equipment } hasta cerca de { $until }.
why-equipment-order-ahead = { $number } ocupará { $equipment } hasta cerca de { $until }.
why-kind = Hay { $kind } libre hacia { $until }.
why-kind-order = { $number } ocupa { $kind } hasta cerca de { $until }.
why-kind-order-ahead = { $number } ocupará { $kind } hasta cerca de { $until }.
why-person = { $person } queda libre hacia { $until }.
why-one_run = Empieza hacia { $until }, para que lo que abre se cierre de una vez.
why-put_first = «{ $card }» se puso antes, hasta cerca de { $until }.
why-kept = Conserva su hora, { $until }. Puede empezar antes si alguien está libre.
why-shut = Cerrado: hay que abrirlo otra vez ({ $open }).
why-qualified = Nadie aquí tiene la calificación «{ $qualification }».
why-late = La promesa se pasa por { $length }.
why-slack = Sobran { $length } antes de la promesa.

## Excepciones
exception-started_early = Se empezó antes de hacer lo que va primero.
exception-finished_early = Se terminó antes de hacer lo que va primero.
exception-closed_over_undone = Se cerró con trabajo sin hacer.
exception-opened_twice = El vehículo subiría dos veces.
exception-not_open = Se trabajó adentro sin estar abierto.
exception-two_at_once = Una persona en dos trabajos a la vez.
exception-moved_open = Se movió estando abierto.
exception-occupied = Dos vehículos en un lugar.
exception-done_by_another = Lo hizo alguien que no lo había tomado.
exception-after_end = Se trabajó después de hecho o cancelado.
exception-during_hold = Se trabajó estando detenido.
exception-high_voltage = Alto voltaje: falta un límite o el aislamiento.
exception-unqualified = Se trabajó sin la calificación que pide.
exception-out_of_turn = Una etapa fuera de orden.
exception-out_of_service = Se trabajó en un equipo fuera de servicio.
exception-too_late = Se empezó demasiado tarde después del paso anterior.
exception-left_open = Manejado, listo o con llaves devueltas y algo abierto, aislado, suelto, debido o sin respuesta.
exception-cancelled_open = Cancelado aunque el vehículo está abierto, o lo estará.
exception-inspection_overdue = Sobre un equipo con la inspección vencida.
exception-unsafe_lift = En un elevador con puntos de apoyo dañados o con partes pesadas quitadas.
exception-no_keys_in = Siguió, pero nadie anotó que entraron sus llaves.
exception-unproved = Hecho en una entrada que el servidor perdió.

## Bandeja
tray = Sin enviar, y por revisar

## Avisos
notices = Avisos

## Lo propio
role-technician = Técnico
role-parts = Partes
role-planner = Planeación
role-manager = Encargado
role-admin = Administrador
how-shown = Cómo se ve
theme = Luz
theme-auto = Como el teléfono
theme-light = Claro
theme-dark = Oscuro
theme-sun = Pleno sol
devices = Dónde tengo abierta la aplicación

## Precauciones usuales, en el trabajo que las pide
cautions = Precaución
caution-always = Siga el procedimiento del fabricante del vehículo y las reglas locales.
caution-lift = Elevador: respete la carga y los puntos de levante, ponga los seguros, equilibre o ponga torres antes de quitar partes pesadas. Nadie debajo de un vehículo sostenido solo por hidráulica.
caution-unexpected_start = Arranque inesperado: llave fuera, y la guarda quien trabaja.
caution-pulling = Al jalar: fuera de la línea de tiro; cable de seguridad en mordazas y cadenas.
caution-hot_work = Soldar y cortar: proteja batería y módulos, lejos combustible y líneas, ventile los humos, cuide los ojos. Donde se exige, vigile contra incendio al menos 30 minutos después.
caution-airbag = Bolsas de aire y cinturones: corriente desconectada, y espere lo que dice el fabricante.
caution-high_voltage = Alto voltaje: solo personas calificadas; aislado y comprobado sin tensión antes de que alguien lo toque.
caution-spraying = Pintar y lijar: isocianatos y polvo. Aire suministrado o respirador ajustado, reglas de la cabina, sin teléfono en el área de pintura.
caution-refrigerant = Refrigerante: solo personas certificadas, se recupera y nunca se suelta.
caution-spring = Los resortes guardan energía: solo con la herramienta correcta.
caution-fuel = Combustible: sin chispas ni llamas; vacíe y ventile, tenga un extintor a la mano.
caution-driving = Manejar: revise antes que no haya nada abierto, suelto ni aislado; frenos, dirección y bolsas de aire como deben estar.

## Palabras de la biblioteca inicial
open-suspension-down-rear = suspensión trasera abajo
open-suspension-down-front = suspensión delantera abajo
open-cradle-down = cuna abajo
open-tank-out = tanque fuera
open-interior-out = interiores fuera
open-refrigerant-out = sin refrigerante
open-high-voltage-off = alto voltaje desconectado
open-on-the-bench = en el banco
open-in-the-booth = en la cabina
kind-lift = elevador
kind-alignment = rampa de alineación
kind-bench = máquina de enderezar
kind-booth = cabina
kind-prep = lugar de preparación
kind-stands = torres
qualification-high-voltage = alto voltaje
qualification-calibration = calibración
qualification-refrigerant = refrigerante
qualification-spray-trained = pintura
