setup-title = Configuración

## Contenido
setup-order = Orden nueva
setup-order-about = Una visita de un vehículo, con el trabajo que ya se conoce.
setup-import = Traer las órdenes abiertas
setup-import-about = De un archivo CSV, para que el taller empiece con los vehículos que tiene.
setup-people = Personas
setup-people-about = Quién trabaja aquí, dónde, qué puede hacer, cuándo falta; invitaciones.
setup-departments = Departamentos
setup-departments-about = Con responsables o en grupo, horario, suplentes.
setup-equipment = Equipo
setup-equipment-about = Elevadores, máquinas, lugares de preparación y cabinas por su nombre: un vehículo a la vez en cada uno.
setup-places = Lugares
setup-places-about = Dónde puede estar un vehículo.
setup-calendars = Calendarios
setup-calendars-about = Turnos, descansos, días festivos.
setup-routings = Recorridos
setup-routings-about = Lo que se puede pedir, como pasos de un departamento al siguiente.
setup-security = Entradas y rechazos
setup-security-about = Quién entró y desde dónde, quién puede más y desde cuándo, qué se negó. Para administradores.
setup-sisters = Talleres hermanos
setup-sisters-about = Otros talleres de la misma empresa: quien trabaja en varios pasa de uno a otro entrando una sola vez.
setup-sisters-admin = Solo un administrador dice qué talleres van juntos.
setup-sisters-intro = Quien trabaja en varios talleres pasa de uno a otro sin volver a entrar. Solo pasa la identificación: vehículos, cifras y ajustes se quedan en cada taller, y en cada uno una persona puede lo que ese taller le permite.
setup-sisters-step-one = Envíe el código de enlace de este taller al administrador del otro, que lo pega allí en esta misma página.
setup-sisters-step-two = Pegue aquí el código de enlace del otro taller y comparen su número de control por teléfono.
setup-sisters-step-three = Cuando los dos están anotados, el otro taller aparece en la página «Más» y arriba en la página «El taller»: pase a él.
setup-sisters-step-four = La primera vez pregunta quién es usted allí. Entre allí una vez y pulse «Sí, las dos soy yo»; desde entonces basta un toque.
setup-sisters-own = El código de enlace de este taller
setup-sisters-own-how = Dice: { $shop }, { $address } y la clave pública del taller. No hace falta guardarlo en secreto, pero tiene que venir de usted y de nadie más: quien lo pega ve junto al nombre de su taller un número de control, que debe ser el de abajo.
setup-sisters-check = número de control { $number }
setup-sisters-copy = Copiar el código de enlace
setup-sisters-add = Anotar otro taller
setup-sisters-code = El código de enlace del otro taller
setup-sisters-added = { $shop } está anotado.
setup-sisters-sure = Quitar y cerrar la entrada de quien vino de allí
setup-shop = El taller mismo
setup-shop-about = Nombre, zona horaria, horario usual, idioma.

## En todas partes
setup-none-yet = Todavía no hay.
setup-retired-count = { $count ->
    [one] Uno que ya no se usa
   *[other] { $count } que ya no se usan
  }
setup-missing = Esto no existe, o aún no está en este aparato.
setup-choose = Elija, por favor
setup-add = Agregar
setup-remove = Quitar
setup-from = Desde
setup-until = Hasta
setup-last-day = Último día
setup-why = Por qué
setup-day = Día
setup-hours = Horas
setup-by-the-hour = Por horas
setup-yes = sí
setup-no = no
setup-name = Nombre
setup-title-field = Título
setup-department = Departamento
setup-in-spanish = { $field }, en español
setup-language = Idioma
setup-calendar = Horario
setup-calendar-of-department = el del departamento
setup-calendar-of-shop = el del taller
setup-save = Guardar
setup-saved = Guardado.
setup-sending = Enviando …
setup-kept-here = Está en este aparato. Se envía en cuanto se alcance el servidor.
setup-refused = No se aceptó.
setup-not-saved = Sin guardar; lo que escribió se conserva en esta pestaña.
setup-discard = Descartar lo que escribí
setup-rather-not = Mejor no
setup-managers-only = Solo un encargado puede cambiar esto.
setup-retire = Ya no se usa
setup-unretire = Volver a usarlo

## Qué está mal
setup-wrong-count = { $count ->
    [one] Hay algo más arriba que revisar antes de guardar.
   *[other] Hay { $count } cosas más arriba que revisar antes de guardar.
  }
setup-wrong-empty = Esto no puede quedar vacío.
setup-wrong-choose = Elija uno, por favor.
setup-wrong-long = Como máximo { $most } letras.
setup-wrong-many = Como máximo { $most }; quite los que ya pasaron o no hacen falta.
setup-wrong-reach = Está antes de 1970 o a más de cinco años; revise el año.
setup-wrong-step-word = La palabra corta de este paso falta, la usa otro paso o tiene más de { $most } letras; quite el paso y agréguelo de nuevo.
setup-wrong-minutes-most = Como máximo { $hours } horas para un paso.
setup-wrong-lag-most = Como máximo { $days } días.
setup-wrong-sold = Se venden { $hours } horas como máximo; revise el número.
setup-wrong-absence = Debe terminar después de empezar.
setup-wrong-load = Una carga en kilogramos, como dice la placa del equipo.
setup-wrong-shift = «{ $part }» no se entiende como horario. Escriba por ejemplo 7:00–11:30, 12:00–16:00.
setup-wrong-shift-clock = «{ $part }» no es una hora del día.
setup-wrong-shift-backwards = «{ $part }» termina antes de empezar. Un turno de noche se escribe en dos líneas: hasta las 24:00 y desde las 0:00 del día siguiente.
setup-wrong-shift-overlap = «{ $part }» empieza antes de que termine el turno anterior.
setup-wrong-date = Aquí hace falta un día.
setup-wrong-day-twice = Este día está dos veces.
setup-wrong-no-steps = Un recorrido necesita al menos un paso.
setup-wrong-minutes = Una duración como 0:40, 1:30 o 2 h.
setup-wrong-after = Sigue a «{ $step }», que debe estar más arriba.
setup-wrong-lag = El tiempo máximo es menor que el mínimo.
setup-wrong-inside = Ningún paso de arriba abre esto.
setup-wrong-closes = Ningún paso de arriba abre esto, así que no se puede cerrar.
setup-wrong-zone = No existe esa zona horaria. Escriba por ejemplo America/Chicago.
setup-wrong-email = Esto no es una dirección de correo.
setup-wrong-vehicle = Diga lo que se ve: color y forma.
setup-wrong-number-taken = { $number } ya está en el taller.
setup-wrong-promise-past = Esta promesa está en el pasado.
setup-wrong-weight-reason = Otros esperan por esto; diga por qué.
setup-wrong-hours = Horas como 12.5.
setup-wrong-number = Un número.

## Personas
setup-people-intro = Nombres, departamentos y funciones los puede leer todo el taller; las direcciones de correo no.
setup-people-add = Persona nueva
setup-people-left = Dejó el taller
setup-people-left-sure = Se cierra la sesión de { $name } en todas partes, lo que tiene { $name } vuelve a las filas, y el nombre queda en el trabajo hecho.
setup-people-back = Está de vuelta en el taller
setup-also = También toma trabajo de
setup-also-hint = Otros departamentos cuya fila ve esta persona.
setup-role = Función
role-may-technician = toma, trabaja, pide
role-may-parts = lo mismo, y dice qué detienen las partes
role-may-planner = lo mismo, abre órdenes, promete, pone primero
role-may-manager = lo mismo, y configura el taller
role-may-admin = lo mismo, y nombra administradores
setup-qualifications = Calificaciones
setup-qualifications-hint = El trabajo que pide una se ofrece solo a quienes la tienen.
setup-qualification-add = Otra calificación
setup-valid-until = Vale hasta (vacío: sin fin)
setup-away = Ausencias
setup-away-add = Agregar ausencia
setup-invite = Acceso
setup-invite-intro = Un enlace que sirve una vez da acceso a { $name } en un teléfono. Muestre el código o envíe el enlace.
setup-invite-self = El código para otro aparato suyo se hace en sus propias cosas:
setup-invite-make = Hacer un enlace
setup-invite-again = Hacer otro enlace
setup-invite-qr = Código para la cámara del teléfono
setup-invite-scan = { $name } apunta aquí la cámara del teléfono, o abre el enlace. Sirve hasta { $time }.
setup-invite-once = Quien lo abra primero entra como esta persona: no se lo muestre a nadie más.
setup-copy = Copiar el enlace
setup-copied = Copiado
setup-contact = Correo
setup-contact-intro = Solo lo ven esta persona y los encargados. Se envía correo solo si el taller configuró un servidor de correo.
setup-email = Dirección de correo
setup-email-wanted = Avisar a esta persona también por correo
setup-contact-save = Guardar el correo

## Departamentos
setup-departments-add = Departamento nuevo
setup-departments-sure = Ya no se ofrece en ninguna parte; su trabajo pasado queda.
setup-working = Cómo se reparte el trabajo
setup-working-lead = con responsables
setup-working-lead-hint = cada vehículo es de alguien
setup-working-pool = en grupo
setup-working-pool-hint = quien está libre toma el siguiente
setup-deputies = Suplentes
setup-deputies-hint = Se les avisa cuando nadie del departamento está en turno.
setup-rank = Lugar en las pantallas
setup-rank-hint = Un número; los pequeños van primero.

## Equipo y lugares
setup-equipment-intro = Cada pieza por su nombre, pues un vehículo está en una sola.
setup-equipment-add = Equipo nuevo
setup-equipment-title-hint = Como le dice la gente: Elevador 2, no Elevador.
setup-equipment-sure = Ya no se planifica en él; su trabajo pasado queda.
setup-kind = Tipo
setup-kind-hint = El trabajo pide un tipo, y recibe el que esté libre.
setup-rated-load = Carga nominal, kg
setup-rated-load-hint = De la placa del equipo.
setup-inspection = Próxima inspección
setup-inspection-is = inspección { $date }
setup-inspection-was = la inspección tocaba { $date }
setup-out = Fuera de servicio
setup-out-add = Agregar tiempo fuera de servicio
setup-out-now = fuera de servicio ahora
setup-lift-caution = Elevadores: el operador los revisa cada día, y una persona calificada los inspecciona al menos cada año (ANSI/ALI ALOIM). Las instrucciones del fabricante y las reglas locales van primero.
setup-places-intro = Un vehículo está en un lugar a la vez; moverlo son dos toques.
setup-places-add = Lugar nuevo
setup-places-sure = Ya no se ofrece; dónde estuvieron los vehículos queda en el registro.
setup-place-on = en { $equipment }
setup-place-equipment = Equipo en este lugar
setup-place-equipment-hint = Estar aquí es estar en él.
setup-place-floor = ninguno, solo piso

## Calendarios
setup-calendars-intro = Los usan el taller, los departamentos y las personas.
setup-calendars-add = Calendario nuevo
setup-calendar-week = { $hours } h por semana
setup-week = La semana usual
setup-week-hint = Escriba los turnos con los descansos entre ellos: 7:00–11:30, 12:00–16:00. Vacío es cerrado.
setup-week-copy = Igual hasta el viernes
setup-closed = cerrado
setup-shifts-read = { $shifts }: { $hours } h de trabajo
setup-shifts-hours = { $hours } h de trabajo
setup-shifts-unclear = todavía no se entiende
setup-special-days = Días distintos de lo usual
setup-special-hint = Festivos con las horas vacías; días cortos o extra con las suyas.
setup-special-add = Agregar un día

## Recorridos
setup-routings-intro = La biblioteca propia del taller. El trabajo que ya está en marcha conserva la versión de la que salió.
setup-routings-add = Recorrido nuevo
setup-routings-sure = Ya no se puede pedir; el trabajo que salió de él queda.
setup-routings-maker = Los tiempos son previstos. Qué se hace y cómo lo dicen el procedimiento del fabricante del vehículo, la hoja técnica del producto y las reglas locales.
setup-routing-line = { $steps ->
    [one] un paso
   *[other] { $steps } pasos
  }, { $length }
setup-routing-drawn = Los pasos en una línea de tiempo, { $length } en total; grueso es trabajo, fino es la espera entre ellos.
setup-step-add = Agregar un paso
setup-step-untitled = Paso sin título
setup-step-title = Qué se hace
setup-step-minutes = Previsto
setup-step-minutes-hint = Por ejemplo 0:40 o 2 h.
setup-step-up = Subir
setup-step-down = Bajar
setup-step-remove = Quitar este paso
setup-step-equipment = Necesita equipo
setup-step-no-equipment = ninguno
setup-step-qualification = Necesita una calificación
setup-step-no-qualification = ninguna
setup-step-how = Cómo
setup-off-vehicle = En una parte suelta, lejos del vehículo
setup-beside = Puede ir al lado de otro trabajo
setup-one-go = Una vez empezado, no se deja para mañana
setup-after = Va después de
setup-lag = Al menos este tiempo después (secado)
setup-lag-max = Como máximo este tiempo después
setup-opens = Abre
setup-opens-hint = Un estado como «suspensión abajo»; aquello en que está el vehículo queda ocupado hasta que se cierre.
setup-inside = Se trabaja mientras está abierto
setup-inside-hint = Solo se puede trabajar mientras esto está abierto.
setup-closes = Cierra
setup-closes-hint = Termina el estado y libera lo que estaba ocupado.
setup-opens-short = abre: { $open }
setup-closes-short = cierra: { $open }
setup-left-open = «{ $open }» se abre y nunca se cierra: aquello en que está el vehículo quedaría ocupado.
setup-checks = Se revisa antes de terminar
setup-check = Revisión
setup-check-add = Agregar una revisión
setup-cautions = Precauciones
setup-cautions-hint = Cada una muestra su frase en la tarjeta.
setup-caution-lift = elevador
setup-caution-unexpected_start = arranque inesperado
setup-caution-pulling = estirado
setup-caution-hot_work = soldar y cortar
setup-caution-airbag = bolsas de aire y cinturones
setup-caution-high_voltage = alto voltaje
setup-caution-spraying = pintar y lijar
setup-caution-refrigerant = refrigerante
setup-caution-spring = resortes
setup-caution-fuel = combustible
setup-caution-driving = manejar

## El taller
setup-shop-name = Nombre del taller
setup-zone = Zona horaria
setup-zone-hint = Por ejemplo America/Chicago.
setup-shop-calendar = Horario usual
setup-shop-calendar-hint = Vale donde un departamento o una persona no tiene el suyo.
setup-shop-language = Idioma de las páginas impresas y del correo para quien no tiene el suyo

## Una orden nueva
setup-order-planners = Solo planeación o un encargado puede abrir una orden.
setup-order-number = Número
setup-order-colour = Color
setup-order-shape = Tipo
setup-order-other = Otro
setup-order-vehicle = Vehículo
setup-order-vehicle-hint = Lo que se ve al mirarlo: vagoneta gris.
setup-order-vin = VIN, si se conoce
setup-vin-length = Un VIN tiene 17 caracteres. Se guarda como usted lo escribió.
setup-vin-letters = Un VIN no lleva I, O ni Q, y solo letras y cifras. Se guarda como usted lo escribió.
setup-vin-digit = El dígito de control no cuadra (49 CFR 565.15). Los vehículos hechos para otros países no tienen que llevarlo; mire otra vez. Se guarda como usted lo escribió.
setup-order-here = Dónde está
setup-order-arrived = Aquí: llaves recibidas
setup-order-expected = Se espera
setup-order-expected-at = Se espera el
setup-order-place = Está en
setup-order-place-unknown = todavía no se dice
setup-order-towed = Llegó en grúa
setup-order-promise = Promesa
setup-order-promise-hint = Puede quedar vacía y prometerse después.
setup-order-routings = Trabajo que ya se conoce
setup-order-routings-hint = Se dispone uno tras otro, en el orden en que usted los marca.
setup-order-routings-chosen = En este orden: { $list }
setup-order-sold = Horas vendidas, si se conocen
setup-order-sold-hint = Horas vendidas, previstas y marcadas son tres números y nunca se mezclan.
setup-order-weight = Urgencia
setup-weight-1 = puede esperar
setup-weight-2 = como siempre
setup-weight-4 = urgente
setup-order-weight-reason = Por qué
setup-order-voltage = Alto voltaje
setup-voltage-none = no lleva
setup-voltage-live = lleva, conectado
setup-voltage-isolated = lleva, aislado
setup-voltage-caution = Solo personas calificadas aíslan y comprueban la ausencia de tensión. Uno dañado se estaciona aparte, con 15 m libres o tras una barrera (SAE J2990). No se hornea sin el límite del fabricante. El procedimiento del fabricante del vehículo y las reglas locales van primero.
setup-bake-celsius = Límite de horneado del fabricante, °C de metal
setup-bake-minutes = Durante, como máximo, minutos
setup-wrong-bake = Los vehículos se hornean de 30 a 100 °C, de 1 a 240 minutos.
setup-order-open = Abrir la orden

## Traer órdenes
setup-import-intro = Guarde la lista de órdenes abiertas como CSV en el programa que usa ahora, y elíjala aquí. No se hace nada hasta que usted lo diga al final.
setup-import-file = El archivo
setup-import-paste = O péguelo
setup-import-large = Este archivo pasa de 4 MB: difícilmente es una lista de órdenes abiertas.
setup-import-try = Revisarlo
setup-import-reading = Leyendo …
setup-import-columns = Qué columna es qué
setup-import-columns-hint = Lo que se pudo adivinar ya está puesto. Las columnas sin nombre se dejan fuera.
setup-import-needed = necesario
setup-import-no-column = ninguna columna
setup-import-words = Qué significan estas palabras
setup-import-words-hint = Su programa usa palabras que este taller no conoce. Diga una vez qué significa aquí cada una.
setup-import-word = { $field }: «{ $word }» ({ $count ->
    [one] una línea
   *[other] { $count } líneas
  })
setup-import-choose = elija …
setup-import-leave-out = nada: dejarlo fuera
setup-import-unsaid = { $count ->
    [one] Una línea espera
   *[other] { $count } líneas esperan
  } hasta que usted diga qué significan sus palabras.
setup-import-result = Lo que se leyó
setup-import-counts = { $rows ->
    [one] Una línea
   *[other] { $rows } líneas
  }: { $good } se pueden traer, { $bad } no.
setup-import-missing = Falta: { $fields }.
setup-import-bad = Líneas que no se pueden leer
setup-import-warnings = Se traen igual, pero conviene mirarlas
setup-import-planners = Solo planeación o un encargado puede traer órdenes.
setup-import-line = Línea
setup-import-column = Columna
setup-import-why = Por qué
setup-import-preview = Las primeras que sí
setup-import-do = { $count ->
    [one] Traer una orden
   *[other] Traer { $count } órdenes
  }
setup-import-bad-left = Las demás quedan fuera. Corríjalas en el archivo y tráigalas después: lo que ya está aquí no se hace dos veces.
setup-import-made = { $count ->
    [one] Se trajo una orden.
   *[other] Se trajeron { $count } órdenes.
  }
setup-import-look = Ver el taller
setup-import-more = Traer más
setup-field-number = Número
setup-field-vehicle = Vehículo
setup-field-vin = VIN
setup-field-promise = Promesa
setup-field-arrived = Llaves recibidas
setup-field-stage = Etapa
setup-field-towed_in = En grúa
setup-field-sold_hours = Horas vendidas
setup-field-weight = Urgencia
setup-field-place = Lugar
setup-field-routings = Trabajo
setup-wall = Una pantalla en la pared
setup-wall-intro = Un enlace para una pantalla que todos ven: muestra el taller como está y no anota nada. Sigue dentro sin que nadie teclee, mientras usted sea del taller; está entre sus dispositivos, y ahí se termina.
setup-wall-scan = Abra el enlace en la pantalla misma. Vale hasta { $time }.
setup-wall-once = Lo primero que lo abra será la pantalla.

begin-title = Primeros pasos
begin-shop = Nombre, zona horaria y horario del taller
begin-people = Quién trabaja aquí
begin-equipment = Elevadores, bancos y cabinas
begin-order = Las órdenes de reparación abiertas
begin-phones = Teléfonos: cada persona entra con un código que usted muestra
begin-done = hecho
begin-later = Ahora no

# Borrar los datos de una persona
setup-erase = Borrar datos
setup-erase-intro = Saca del taller para siempre el nombre, los textos y las fotos de esta persona, cuando ella o la ley lo pide. Si solo dejó el taller, no hace falta borrar nada.
setup-erase-look = Borrar los datos de { $name } …
setup-erase-goes = Lo que se borra para siempre
setup-erase-goes-name = El nombre, el correo, la contraseña y el PIN. Se cierra la sesión de { $name } en todas partes y deja el taller.
setup-erase-goes-texts = Lo que escribió { $name }: notas, motivos, lo que dijo al pedir, al poner en espera o al poner primero, marcas en fotos; y lo que se escribió sobre sus ausencias.
setup-erase-goes-photos = Las fotos que tomó { $name }, también de los teléfonos de los demás. Mire antes si alguna hace falta para un vehículo que sigue aquí.
setup-erase-goes-phones = Los teléfonos y tabletas del taller lo olvidan la próxima vez que alcanzan el servidor. Lo que todavía traigan cuenta como trabajo; sus textos y fotos no se guardan.
setup-erase-stays = Lo que queda
setup-erase-stays-work = Lo que se hizo, cuándo y cuánto duró, sin el nombre de nadie: hace falta para el registro de la reparación y la paga. También las revisiones, los hallazgos y los estados de alta tensión.
setup-erase-stays-things = Lo que { $name } configuró o nombró: vehículos, tarjetas, secuencias; y dónde se dijo que estaban las llaves y los tornillos.
setup-erase-stays-backups = Las copias de seguridad de antes. Cada restauración vuelve a borrar según la lista que está junto a las copias; elimine las viejas cuando pase su plazo.
setup-erase-stays-sisters = Lo que guardan otros talleres, buzones de correo, hojas impresas y exportaciones. Los talleres hermanos borran por su cuenta.
setup-erase-sure = Nadie puede deshacer esto.
setup-erase-do = Borrar los datos de { $name }
setup-erased-line = Persona borrada
setup-erased = Datos borrados { $at }. Sus horas quedan en { $department }. Si vuelve, agréguela como persona nueva.
