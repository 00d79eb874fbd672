day-move = Otro día
day-before = Día anterior
day-after = Día siguiente
day-due = Vencidos, o prometidos hasta mañana en la noche
day-due-none = No hay nada vencido ni prometido hasta mañana en la noche.
day-due-is = “Listo hacia” es el plan si nada se atraviesa; la probabilidad cuenta lo que suele pasar.
day-due-ready = Está listo.
day-due-kept = Probabilidad de cumplirla: { $share }.
day-overdue = vencido
day-passed = Llegaron y se fueron
day-passed-none = No llegó ni se fue nada.
day-stage-arrived = Llaves recibidas.
day-stage-authorised = Autorizado.
day-stage-ready = Listo.
day-stage-delivered = Llaves devueltas.
day-stage-stopped = Detenido.
day-promise-kept = Primera promesa cumplida.
day-nothing-promised = No se había prometido nada.
day-done = Trabajo hecho
day-done-none = No se registró trabajo.
day-department = Departamento
day-cards = Tareas terminadas
day-planned = Sus horas planeadas
day-clocked = Horas registradas
day-done-is = Las horas planeadas son de las tareas terminadas ese día, se hayan trabajado cuando sea; las registradas son las de ese día, terminadas o no. No tienen por qué ser iguales.
day-asked = Pedidos entre departamentos
day-asked-counts = { $asked } pedidos, { $begun } empezados, { $back } devueltos.
day-asked-until = La mitad de los empezados había esperado hasta { $length } desde que se pidió y estaba de verdad listo.
day-asked-waiting = { $count ->
    [one] Uno de los pedidos no se ha empezado:
   *[other] { $count } de los pedidos no se han empezado:
}
day-asked-waited = { $count ->
    [one] Uno de los pedidos no se había empezado al final del día:
   *[other] { $count } de los pedidos no se habían empezado al final del día:
}
day-raised = Excepciones
day-raised-counts = { $raised } abiertas, { $answered } contestadas.
day-answered = Contestada.
day-unanswered = Sin contestar.
