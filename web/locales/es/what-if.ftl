what-if-tab = Y si…
what-if-title = Y si…
what-if-intro = Mirar no cambia nada. El plan como está y el plan como sería se hacen ahora mismo, desde el orden que todos ven.
what-if-what = ¿Qué sería distinto?
what-if-vehicle_first = Un vehículo va primero
what-if-out_of_service = Un equipo está fuera de servicio
what-if-away = Alguien falta
what-if-back = Alguien sí está
what-if-joins = Alguien más en un departamento
what-if-extra_shift = Un departamento trabaja más
what-if-hold_until = Lo que se espera llega entonces
what-if-close_up = Cerrado para que ruede, abierto otra vez después
what-if-vehicle = Vehículo
what-if-equipment = Equipo
what-if-person = Quién
what-if-hold = Qué se espera
what-if-open = Qué está abierto
what-if-until = Hasta
what-if-due = Llega
what-if-day = Día
what-if-from = De
what-if-to = A
what-if-look = ¿Quién se atrasa?
what-if-busy = Se están haciendo los dos planes.
what-if-needs-vehicle = Elija un vehículo.
what-if-needs-equipment = Elija el equipo.
what-if-needs-person = Elija a quién.
what-if-needs-department = Elija un departamento.
what-if-needs-hold = Elija qué se espera.
what-if-needs-open = Elija qué se cierra.
what-if-needs-moment = Diga cuándo.
what-if-past = Ese momento ya pasó; elija uno posterior.
what-if-backwards = Tiene que terminar después de empezar.
what-if-unreached = No se sabe quién se atrasa: no se alcanza el servidor.
what-if-said-vehicle_first = Si { $number } va primero
what-if-said-out_of_service = Si { $equipment } está fuera de servicio hasta { $until }
what-if-said-away = Si { $person } falta hasta { $until }
what-if-said-back = Si { $person } está hasta { $until }
what-if-said-joins = Si en { $department } hay alguien más hasta { $until }, sin calificaciones
what-if-said-extra_shift = Si { $department } trabaja el { $day } de { $from } a { $to }
what-if-said-hold_until = Si lo que espera { $number } llega { $due }
what-if-said-close_up = Si { $number } se cierra para que ruede ({ $open })
what-if-as-of = Visto a las { $at }.
what-if-then = Quién lo paga
what-if-nobody = Ningún vehículo se atrasa ni se adelanta.
what-if-later = { $count ->
    [0] Ningún vehículo se atrasa.
    [one] Un vehículo se atrasa.
   *[other] { $count } vehículos se atrasan.
  }
what-if-earlier = { $count ->
    [0] Ninguno se adelanta.
    [one] Uno se adelanta.
   *[other] { $count } se adelantan.
  }
what-if-same = { $count ->
    [0] {""}
    [one] Uno queda como está.
   *[other] { $count } quedan como están.
  }
what-if-own = { $number }: { $by }. Listo hacia { $after } en vez de { $before }.
what-if-own-same = { $number } queda listo como en el plan de ahora: ni antes ni más tarde.
what-if-missed = { $count ->
    [one] Se falla una promesa que según el plan de ahora se cumple: { $numbers }.
   *[other] Se fallan { $count } promesas que según el plan de ahora se cumplen: { $numbers }.
  }
what-if-missed-none = No se falla ninguna promesa que según el plan de ahora se cumple.
what-if-change = Cambio
what-if-before = Listo según el plan de ahora
what-if-after = Listo entonces
what-if-promise = Promesa
what-if-later-by = { $length } más tarde
what-if-earlier-by = { $length } antes
what-if-ready = Listo hacia { $at }.
what-if-promise-none = Nada prometido.
what-if-promise-kept = La promesa se cumpliría.
what-if-promise-late = Saldría { $length } tarde; ya ahora va tarde.
what-if-promise-late_now = Saldría { $length } tarde; según el plan de ahora, a tiempo.
what-if-promise-late_no_more = Ya no iría tarde.
what-if-more = { $count ->
    [one] Y uno más.
   *[other] Y { $count } más.
  }
what-if-weighed = Vehículos tarde: { $late } ahora, { $then } entonces. Atraso de todos: { $before } ahora, { $after } entonces.
what-if-weighed-same = Vehículos tarde: { $late } ahora, { $then } entonces. El atraso de todos sigue en { $before }.
what-if-weighed-is = Tiempo de calendario pasado de las promesas, cada uno por la urgencia del vehículo.
what-if-accept-first = { $count ->
    [one] El único trabajo que le falta va primero hasta { $until }.
   *[other] Los { $count } trabajos que le faltan van primero hasta { $until }.
  }
what-if-did-first = Puesto primero. El orden sigue en un momento.
what-if-accept-out_of_service = Ponerlo fuera de servicio
what-if-accept-joins = Registrar quién es
what-if-accept-hold_until = Registrar la nueva fecha
what-if-accept-close_up = Cerrarlo y abrirlo otra vez después
what-if-close_up-care = Agrega dos tarjetas: cerrarlo ahora y abrirlo otra vez antes de lo que espera adentro. Cerrado solo para rodar: tornillos, par de apriete, alineación y si puede rodar son como diga el procedimiento del fabricante.
what-if-accept-manager = Un gerente lo anota en los calendarios del taller.

## The booth's loads
booth-title = En la cabina hoy
booth-title-day = En la cabina el { $day }
booth-when = Cuándo
booth-what = Qué
booth-with = Se podría hornear junto
booth-alone = Ninguna parte suelta está lista entonces.
booth-loose = parte suelta
booth-time = { $from } a { $to }
booth-limit = Alto voltaje a bordo: { $number } se puede hornear a { $celsius } °C por { $minutes } min como máximo, según lo anotado. Manda el procedimiento del fabricante del vehículo.
booth-limit-missing = Alto voltaje a bordo y sin límite de horneado anotado para { $number }: no lo hornee antes de consultar el procedimiento del fabricante del vehículo.
booth-limit-half = Alto voltaje a bordo y el límite de horneado anotado para { $number } está incompleto: consulte temperatura y tiempo en el procedimiento del fabricante del vehículo antes de hornear.
booth-note = Si partes y vehículos se pueden hornear juntos lo deciden las hojas técnicas de la pintura y los procedimientos de los fabricantes; el límite más bajo vale para todos.
what-if-accept-away = Anotar la ausencia
what-if-accept-back = Quitar la ausencia
what-if-accept-extra_shift = Anotar las horas
what-if-accept-shift-own = { $department } trabaja con un horario que también es de otros. Al aceptar recibe el suyo desde ahora: los cambios del horario común ya no le llegan.
what-if-did = Anotado. El orden sigue en un momento.
jam-title = ¿Dónde se atasca el taller?
jam-intro = Cada departamento por turno se queda una hora más en su próximo día abierto, cada clase de equipo recibe uno más, y el taller se planea de nuevo. No se anota nada.
jam-find = Buscar dónde más ayuda una hora
jam-busy = El taller se planea una vez por cada uno. Tarda unos segundos.
jam-none = Según el plan de ahora ningún vehículo va tarde: no hace falta añadir horas.
jam-nowhere = { $late ->
    [one] Un vehículo va tarde, y ninguna hora ni equipo por sí solo lo cambia.
   *[other] { $late } vehículos van tarde, y ninguna hora ni equipo por sí solo lo cambia.
  }
jam-verdict = Lo que más ahorra: { $more }. Son { $saved } de { $all }, que es lo que van tarde entre todos, cada uno por su urgencia. Vehículos tarde: { $late } ahora, { $then } entonces.
jam-hour = { $count ->
    [one] Una hora más en { $department } ({ $day } { $from }–{ $to }, una persona)
   *[other] Una hora más en { $department } ({ $day } { $from }–{ $to }, { $count } personas)
  }
jam-piece = Uno más de: { $kind }
jam-saves = ahorra { $saved }.
jam-each = { $each } por hora trabajada.
jam-late = Vehículos tarde entonces: { $late }.
jam-look = ¿Quién se adelanta?
jam-is = Los días de retraso cuentan cada vehículo tantas veces como su urgencia, así que son más que los días corrientes. Un vehículo que está listo por la tarde y no a la mañana siguiente ha ahorrado la noche.
jam-rest = Más de esto no cambia nada: { $names }.
what-if-small = { $count ->
    [one] Otro se mueve menos de media hora
   *[other] Otros { $count } se mueven menos de media hora
}
