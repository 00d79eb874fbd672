outlook-tab = Qué tan seguro
outlook-title = Qué tan seguras son las fechas
outlook-dates = Cuándo quedará listo cada vehículo
outlook-loading = Se están calculando las fechas.
outlook-definition = Al cliente dígale la fecha de nueve de diez: “listo hacia” en otras pantallas es el plan si nada se atraviesa. Sale de recorrer el taller { $runs } veces en el orden del plan, con trabajos que tardan lo que tardan aquí; las fechas incluyen noches y fines de semana.
outlook-learnt = Aprendido de { $cards } tareas terminadas: la mitad tardó hasta { $ratio } de sus horas planeadas, nueve de diez hasta { $ratio90 }.
outlook-prior = Todavía no se ha registrado trabajo, así que la variación es una suposición.
outlook-slip = { $count ->
    [one] Un vehículo anterior dice
   *[other] { $count } vehículos anteriores dicen
} cuánto más tarde que en los recorridos terminan (trabajo hallado tarde, autorizaciones, gente llamada a otra cosa): eso está en las fechas.
outlook-slip-prior = Cuánto más tarde terminan los vehículos de lo que dicen los recorridos es una suposición hasta que algunos hayan pasado por el taller.
outlook-vehicle = Vehículo
outlook-kept = Probabilidad de cumplir
outlook-promise = Prometido
outlook-half = Mitad de los casos
outlook-ninety = Nueve de diez
outlook-none = nada prometido
outlook-ask = ¿Qué se puede prometer?
outlook-ask-intro = Un vehículo que aún no llega se pone junto a todo lo que hay en el taller y se recorre el taller con él. No se registra nada.
outlook-work = Qué se haría, en este orden
outlook-arriving = Llega el
outlook-look = ¿Cuándo quedaría listo?
outlook-busy = Se está recorriendo el taller con él.
outlook-needs-work = Elija qué se haría.
outlook-needs-day = Elija un día que no haya pasado.
outlook-unreached = No se puede decir nada: no se alcanza el servidor.
outlook-answer = Nueve de cada diez veces queda terminado para el { $at }.
outlook-answer-less = Ocho de diez para el { $p80 }, la mitad para el { $p50 }.
outlook-endangered = Estas promesas se cumplirían menos veces:
outlook-endangered-by = probabilidad { $after }, ahora { $before }
outlook-true = ¿Se han cumplido estas fechas?
outlook-true-intro = Los últimos 180 días, calculados de nuevo desde el registro: la noche en que un vehículo llegó, fue autorizado o tenía hecha la mitad de su trabajo planeado, sin saber nada de después. Una fecha cuenta cuando ya pasó; terminado es cuando se acabó la última tarea.
outlook-true-loading = Se está calculando el pasado. Tarda unos segundos.
outlook-true-failed = No se puede mirar el pasado: no se alcanza el servidor.
outlook-true-few = Han pasado muy pocos vehículos por el taller para decirlo.
outlook-true-sentence = De { $count } vehículos, { $at ->
    [arrived] al llegar
    [half_way] con la mitad del trabajo hecha
   *[authorised] al autorizarse
}, el { $share } quedó terminado para la fecha de nueve de diez.
outlook-true-at = Dada
outlook-true-vehicles = Vehículos
outlook-true-half = En «mitad» (justo: 50 %)
outlook-true-ninety = En «nueve de diez» (justo: 90 %)
outlook-true-factor = Factor
outlook-true-arrived = al llegar
outlook-true-authorised = al autorizarse
outlook-true-half_way = a la mitad
outlook-true-is = Terminados para la fecha de la mitad de los casos, para la que debe cumplirse nueve de cada diez veces; y por qué factor lo que falta dura más que en los recorridos, que ya está en las fechas de esta página.
