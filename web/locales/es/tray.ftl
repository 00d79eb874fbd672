### Lo que no está enviado, y lo que resultó de lo enviado.

## Por enviar
waiting-to-send = Por enviar
sending = Enviando …
sent-when-reached = Queda guardado en este teléfono y se envía solo cuando se alcance el servidor.
all-sent = Todo está enviado.
send-now = Enviar ahora
others-wait = { $count ->
    [one] También espera aquí 1 cosa de otra persona. Se envía con lo suyo.
   *[other] También esperan aquí { $count } cosas de otras personas. Se envían con lo suyo.
  }
held-own = { $count ->
    [one] 1 cosa suya se envía cuando usted desbloquee.
   *[other] { $count } cosas suyas se envían cuando usted desbloquee.
  }
held-others = { $count ->
    [one] 1 cosa de otra persona se envía cuando ella desbloquee.
   *[other] { $count } cosas de otra persona se envían cuando ella desbloquee.
  }

## Por revisar
to-look-at = Por revisar
nothing-to-look-at = No se rechazó nada y nada está fuera de orden.
case-title = { $number }: { $card }
lost-take = { $person } lo tomó antes que usted, { $at }.
lost-take-nobody = Alguien lo tomó antes que usted.
kept-done = Lo que hizo cuenta: empezado { $from }, terminado { $to }, por usted. Quien planea lo revisa.
kept-done-only = Lo que hizo cuenta: terminado { $to }, por usted. Quien planea lo revisa.
kept-running = Usted trabaja en esto desde { $from }. Eso cuenta.
kept-worked = Usted trabajó en esto de { $from } a { $to }. Eso cuenta.
then-taken = Pregunte si hace falta otra mano, o déjelo.
then-taken-helping = Ahora usted ayuda en esto.
then-taken-running = Hable con { $person } antes de seguir: ayudar, o entregar.
then-taken-done = Dígale a { $person } que ya está hecho.
joined-open = Ya está abierto: lo que pidió se unió. { $number } no sube dos veces. Siga adentro.
joined-asked = Esto ya se había pedido: lo suyo se unió. { $number } no sube dos veces. Se le avisa cuando esté abierto.
recorded-high_voltage = Quedó anotado: el alto voltaje estaba activo, o no se conoce el límite para hornear.
then-high_voltage = Pare. Solo personas calificadas; aislado y comprobado sin tensión antes de que alguien lo toque. Siga el procedimiento del fabricante.
recorded-closed_over_undone = Quedó anotado: cerrado sobre trabajo sin hacer.
recorded-closed_over_undone-about = Quedó anotado: cerrado sobre trabajo sin hacer: { $about }.
then-closed_over_undone = La alarma queda hasta que conteste quien planea. Si en verdad está hecho, termínelo en la aplicación. Si no, el vehículo no sigue.
recorded-moved_open = Quedó anotado: movido estando abierto.
then-moved_open = Mire si está bien apoyado. Un vehículo abierto se mueve solo donde el fabricante lo permite, sobre torres o carritos.
recorded-occupied = Quedó anotado: otro vehículo está en el mismo lugar.
then-occupied = Anote dónde está ahora cada uno de los dos.
recorded-unqualified = Quedó anotado: pide una calificación que no está anotada para usted.
then-unqualified = Pare hasta que lo revise quien planea.
recorded-not_open = Quedó anotado: el vehículo no constaba como abierto para esto.
then-not_open = Si en verdad está abierto, avise a quien planea para que se anote. Si no, pare.
recorded-during_hold = Quedó anotado: el trabajo estaba detenido, o sin aprobar.
then-during_hold = Pare hasta que quien planea diga que siga.
recorded-after_end = Quedó anotado: ya se había acabado antes.
recorded-after_end-cancelled = Se había cancelado. Lo que hizo queda anotado; sigue cancelado.
recorded-after_end-done = { $person } ya lo había terminado, { $at }. Lo que usted hizo queda anotado al lado.
then-after_end = Diga qué se hizo, para que nadie lo repita ni lo desarme.
recorded-two_at_once = Quedó anotado: dos trabajos suyos corrían a la vez.
recorded-two_at_once-about = Quedó anotado: dos trabajos suyos corrían a la vez; el otro: { $about }.
then-two_at_once = Diga cómo fue, o corrija las horas.
recorded-started_early = Quedó anotado: empezado antes de que se hiciera lo que va primero.
recorded-started_early-about = Quedó anotado: empezado antes de que se hiciera esto: { $about }.
then-started_early = Mire si puede seguir. Si no, haga pausa.
recorded-finished_early = Quedó anotado: terminado antes de que se hiciera lo que va primero.
recorded-finished_early-about = Quedó anotado: terminado antes de que se hiciera esto: { $about }.
then-finished_early = Si eso ya no hace falta, avise a quien planea.
recorded-opened_twice = Para esto el vehículo subiría dos veces.
then-opened_twice = Quien planea lo revisa. Quizá su trabajo cabe en lo que ahora está abierto.
recorded-out_of_turn = Quedó anotado: una etapa fuera de orden.
recorded-out_of_turn-about = Quedó anotado: una etapa fuera de orden. Sin hacer: { $about }.
then-out_of_turn = Quien planea responde por ello.
recorded-out_of_service = Quedó anotado: el equipo consta como fuera de servicio.
then-out_of_service = Pare y retire el vehículo de ahí, salvo que ya esté arreglado. Luego haga anotar que está en servicio.
recorded-too_late = Quedó anotado: empezado más tarde después del paso anterior de lo permitido.
recorded-too_late-about = Quedó anotado: empezado más tarde de lo permitido después de esto: { $about }.
then-too_late = Mire qué pide ahora el fabricante del producto, por ejemplo lijar otra vez. Quien planea lo revisa.
recorded-left_open = Quedó anotado: hay algo abierto, aislado, suelto, debido o sin respuesta.
recorded-left_open-about = Quedó anotado: hay algo abierto, aislado, suelto, debido o sin respuesta. Revise: { $about }.
then-left_open = Nadie lo maneja hasta que conteste quien planea. Revise usted el vehículo.
recorded-cancelled_open = Quedó anotado: cancelado aunque el vehículo está abierto, o lo estará.
recorded-cancelled_open-about = Quedó anotado: cancelado aunque el vehículo está abierto, o lo estará: { $about }.
then-cancelled_open = Queda pendiente hasta que quien planea diga cómo se cierra el vehículo.
recorded-inspection_overdue = Quedó anotado: la inspección del equipo está vencida.
then-inspection_overdue = Pregunte a quien planea antes de levantar algo.
recorded-unsafe_lift = Quedó anotado: puntos de apoyo dañados o partes pesadas quitadas.
then-unsafe_lift = Alto. Nadie se mete abajo antes de que lo carguen torres. Siga el procedimiento del fabricante.
recorded-no_keys_in = Quedó anotado. Pero nadie anotó que entraron sus llaves.
then-no_keys_in = Si está aquí, anote «Llaves recibidas». Quien planea responde por ello.
recorded-unproved = Quedó anotado: el servidor volvió a una copia anterior y ya no conoce la entrada en que usted lo hizo.
then-unproved = Cuenta. Quien planea pregunta si fue así.
recorded-done_by_another = { $person } lo había tomado. Queda anotado como hecho por usted.
then-done_by_another = Dígale a { $person } que ya está hecho.
answered = { $person } contestó, { $at }: { $reason }

## Qué hacer ahora
next-help = Ayudar en esto
next-hand-over = Entregar a { $person }
next-leave = Dejárselo a { $person }
next-tell = Avisar a quien planea
next-again = Hacerlo otra vez, a esta hora
next-open-again = Abrirla con este número
other-number = Otro número
handed-over-note = Entregado a { $person }.
did-hand-over = Entregado a { $person }, y anotado.
tell-planner-note = Por favor revise: { $what }
did-tell-planner = Anotado en el vehículo para quien planea.
did-again = Hecho otra vez, a esta hora.
did-open-again = { $number } está abierta, con lo que se anotó en ella.
copy = Copiar el texto
copied = Copiado.
put-away = Quitar de aquí

## Por qué no
refused-taken = { $person } lo tiene, { $at }.
refused-done = { $person } ya lo hizo, { $at }.
refused-cancelled = Se canceló mientras tanto.
refused-not_ready = Todavía no se puede: falta hacer algo antes, no está aprobado, o el vehículo está detenido.
refused-not_yours = Es trabajo de otro departamento, o de otra persona.
refused-not_qualified = Pide una calificación que no está anotada para usted.
refused-forbidden = Su puesto no permite esto. Pregunte a quien planea o a un encargado.
refused-expectation = Mientras tanto esto cambió; mire otra vez antes de repetirlo.
refused-delivered = Las llaves de este vehículo ya se devolvieron. Más trabajo es una orden nueva.
refused-nothing_to_undo = Ya no se pudo deshacer. Mejor corríjalo.
refused-promise_past = La promesa queda en el pasado.
refused-promise_closed = A esa hora el taller está cerrado.
refused-promised_otherwise = { $person } prometió otra cosa, { $at }. Véalo antes de cambiarla.
refused-reason_needed = El vehículo está abierto, o lo estará: diga por qué se cancela de todos modos.
refused-duplicate_number = Ya existe una orden { $number }.
refused-signed_out = Su entrada ya había terminado cuando lo hizo; por eso todavía no cuenta.
refused-cycle = Eso se esperaría a sí mismo.
refused-put_first_past = Ya pasó la hora hasta la que va primero.
refused-unproved = El servidor volvió a una copia anterior y ya no conoce la entrada en que usted lo dijo. Dígalo otra vez si todavía vale.
refused-too_large = Era demasiado grande para enviar. Su texto queda guardado aquí.
refused-invalid = Algo no está como debe: { $message }
refused-unknown = El servidor no conoce de qué se trata.
refused-unknown_card = El servidor no conoce este trabajo. Quizá era parte de algo que no se aceptó.
refused-unknown_order = El servidor no conoce esta orden.
refused-unknown_person = El servidor no conoce a esta persona.
refused-unknown_place = Ese lugar ya no existe.
refused-unknown_routing = Ese recorrido ya no existe.
refused-routing_outdated = Incluye trabajo de un departamento que ya no existe. Se avisó a quien planea; pida de nuevo cuando se cambie el recorrido, o elija otro.
refused-unknown_department = Ese departamento ya no existe.
refused-other = El servidor no lo aceptó.
refused-also = { $count ->
    [one] Junto con 1 cosa que se anotó en ella.
   *[other] Junto con { $count } cosas que se anotaron en ella.
  }

## Acciones
act-take = tomar
act-give_back = devolver
act-start = empezar
act-pause = pausa
act-finish = terminar
act-help = ayudar
act-note = nota
act-found = encontrado
act-photo = foto
act-mark_photo = marcas en una foto
act-move = mover
act-condition = cómo está el vehículo
act-energy = alto voltaje
act-equipment_out = equipo fuera de servicio
act-equipment_back = equipo en servicio otra vez
act-ask = pedir
act-lead = responsable
act-stage = etapa
act-stage_back = llaves no devueltas
act-hold = detener
act-unhold = fin de la espera
act-promise = promesa
act-put_first = poner primero
act-put_back = ya no primero
act-assign = dar a alguien
act-correct = corrección
act-undo = deshacer
act-answer = respuesta
act-add_card = trabajo nuevo
act-edit_card = trabajo cambiado
act-cancel_card = trabajo cancelado
act-call_off = cancelar lo pedido
act-open_order = orden nueva
act-edit_order = orden cambiada
act-other = cambio

## Avisos
no-notices = Aún no tiene avisos.
notice-asked = { $number }: { $person } pide «{ $what }».
notice-taken = { $number }: { $person } tomó «{ $what }».
notice-taken-about = { $number }: { $person } tomó «{ $what }»; empieza hacia { $about }.
notice-open = { $number } está abierto: sigan adentro. { $what }
notice-handed_back = { $number } está de vuelta: { $what }
notice-given_back = { $number }: { $person } devolvió «{ $card }».
notice-refused = { $number }: no se aceptó. { $card }
notice-refused-by = { $number }: { $person } fue antes que usted: { $card }
notice-exception = { $number }: { $exception } Se espera su respuesta.
notice-assigned = { $number }: { $person } le da «{ $card }».
notice-next = { $number } le llega después: { $card }
notice-next-about = { $number } le llega hacia { $about }: { $card }
notice-not_next = { $number }: todavía no le toca. «{ $card }» espera otra vez.
notice-hold_ended = { $number }: llegó lo que esperaba. { $card }
notice-fell_free = { $number }: nadie tiene ya «{ $card }»; quien la tenía se fue.
notice-closed_over = { $number } se cerró sobre «{ $card }», que no está hecho. Avise a quien planea.
notice-equipment_out = { $number }: { $equipment } está fuera de servicio. Bájelo si se puede sin peligro.
notice-equipment_out-empty = { $equipment } está fuera de servicio.
notice-called_off = { $number }: { $person } canceló «{ $card }».
notice-called_off-ask = { $number }: { $person } canceló lo que usted pidió: { $what }
notice-done_for_you = { $number }: { $person } terminó «{ $card }», que era de usted.
notice-put_before = { $number }: algo va antes de «{ $card }», en lo que usted trabaja.
notice-taken_away = { $number }: «{ $card }» ya no es de usted, dice { $person }.
notice-untaken = { $number }: nadie ha tomado «{ $what }».
notice-still_running = ¿Sigue en marcha? Su turno terminó, o es su descanso: { $number }, { $card }
notice-stopped_here = { $number } se detuvo, y sus llaves siguen aquí.
notice-stage_taken_back = { $number } está aquí otra vez: { $person } dice que las llaves no se devolvieron.
notice-routing_outdated = { $number }: { $person } pidió con un recorrido que nombra un departamento que ya no existe. Cámbielo en «Configuración» y avise a { $person }.
notice-lift_blocked = { $number } ocupa su lugar más de lo previsto: { $card }
notice-promise_unlikely = { $number } probablemente no estará listo como se prometió.
notice-promise_unlikely-about = { $number } probablemente no estará listo como se prometió, sino hacia { $about }.
tried-for-you = Se escribieron contraseñas equivocadas con su nombre { $count } veces; la última: { $at }. Si no fue usted, elija una contraseña nueva en «Más» y dígaselo a un administrador.
told-link = { $person } hizo un enlace para entrar como usted, { $at }. Quien lo abra entra como usted. Si no lo pidió, hable con esa persona y con otro administrador.
told-contact = { $person } cambió adónde llega su correo, { $at }. Mírelo en «Más».
told-passkey = Se hizo una llave de acceso a su nombre, { $at }. Si no fue usted, quítela en «Más» y elija una contraseña nueva.
tried-read = Ya lo leí
