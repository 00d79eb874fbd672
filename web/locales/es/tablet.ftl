### Una tableta que comparten varias personas.

who-is-there = ¿Quién está ahí?
add-somebody = Agregar a alguien
add-somebody-how = Con un enlace o código propio de un encargado, o de “Otro teléfono” en su propia aplicación. Después elige un PIN para esta tableta.
pin = PIN
pin-new = PIN nuevo
pin-again = Otra vez
pin-choose = Elija un PIN para esta tableta: de { $from } a { $to } cifras. Mantiene su trabajo aparte del de otros; bloquee la tableta cuando se vaya.
pin-other = Otro PIN
pin-late = Entró aquí hace demasiado tiempo para elegir un PIN. Pida un enlace nuevo a un encargado, ábralo en esta tableta y elíjalo en los diez minutos siguientes.
admin-password-how = Los administradores no tienen PIN en una tableta compartida. Entre con la contraseña o una llave de acceso; hay que alcanzar el servidor.
pin-enter = OK
pin-back = Quitar una cifra
pin-digits = { $count ->
    [one] 1 cifra
   *[other] { $count } cifras
  }
pin-looking = Un momento …
pin-wrong = Ese no es el PIN.
pin-differs = Los dos no eran iguales. Empiece de nuevo.
pin-refused = El servidor no tomó este PIN. Elija otro.
pin-no-pin = En esta tableta todavía no hay un PIN suyo y no se alcanza el servidor del taller. Intente cuando se alcance.
pin-ended = Su entrada en esta tableta terminó. Entre con un enlace nuevo. Lo que no está enviado queda aquí y se envía.
pin-wait = { $count ->
    [one] Ese no era el PIN. Intente de nuevo en 1 segundo.
   *[other] Ese no era el PIN. Intente de nuevo en { $count } segundos.
  }
not-me = Otra persona
tablet-ended = Esta entrada terminó en el taller. Entre con un enlace nuevo. Lo que no está enviado queda aquí y se envía.
tablet-pin-changed = El PIN se cambió en otro lado. Escriba el nuevo.

share-tablet = Compartir esta tableta
share-how = Varias personas usan esta tableta, cada una con un PIN: el trabajo de cada quien queda aparte y se envía esté quien esté.
share-begin = Compartir esta tableta
share-insecure = Para eso hace falta una dirección segura (https).
share-on = Varias personas usan esta tableta. Se bloquea sola.
share-end = Desde ahora solo la uso yo
locks-after = Se bloquea después de
minutes-count = { $count ->
    [one] 1 minuto
   *[other] { $count } minutos
  }

## Lo que se guarda en este teléfono
on-this-phone = En este teléfono
almost-full-how = Este teléfono está casi lleno. Lo que hace se sigue guardando; las fotos no, hasta que haya espacio: envíe lo que espera, o borre otra cosa del teléfono.
kept-promised = Este teléfono prometió guardar lo que no está enviado, también cuando haga limpieza.
kept-not-promised = Este teléfono no prometió guardar lo que no está enviado: puede borrarlo cuando le falte espacio. Poner Turnbuckle en la pantalla de inicio ayuda.
kept-ask = Pedir al teléfono que lo guarde
kept-not-given = El teléfono no lo prometió.
room-used = { $used } MB guardados aquí, { $share } % de lo que el teléfono permite.
photos-waiting = { $count ->
    [one] 1 foto espera ser enviada.
   *[other] { $count } fotos esperan ser enviadas.
  }

## Otro teléfono
trust = Un aparato nuevo en la red del taller
trust-how = Abra primero esta página en él. Muestra la huella de { $authority }, la autoridad propia del taller. Siga solo si es igual que aquí:
other-phone-how = Hace un código para entrar en otro teléfono o en la aplicación de la pantalla de inicio. Vale diez minutos y sirve una vez.
make-code = Hacer un código
proof-secret = Su contraseña o PIN: quien solo tiene este teléfono en la mano no hace un código
proof-wrong = Esa no es su contraseña ni su PIN.
qr-alt = Código para escanear con el otro teléfono
devices-later = Se muestra cuando se alcance el servidor.
seen-at = Visto { $at }
sign-out-device = Cerrar ahí
password-now = Contraseña actual (si tiene una)
password-new = Contraseña nueva, al menos { $count } caracteres
password-end-others = Cerrar mi sesión en todos los demás aparatos y quitar las llaves de acceso hechas en ellos
password-wrong_password = Esa no es su contraseña actual.
password-password_length = Una contraseña tiene de 10 a 128 caracteres.
password-password_usual = Muchas personas tienen esta contraseña, o está hecha del nombre del taller o del suyo. Elija otra: tres o cuatro palabras que no van juntas están bien.
password-link_too_old = Entró aquí hace demasiado tiempo para elegir una primera contraseña. Pida un enlace nuevo a un encargado, ábralo en este aparato y elíjala en los diez minutos siguientes.
password-too_many_tries = Demasiados intentos. Espere unos minutos.
code-good-until = Vale hasta { $at }, y una sola vez. Quien lo tenga puede entrar como usted.
other-phone-install = En el otro teléfono abra la dirección del taller en el navegador y ponga Turnbuckle en la pantalla de inicio. Ábralo ahí.
other-phone-type = Escriba ahí el código, o escanee la imagen, o abra el enlace.
copy-link = Copiar el enlace
send-link = Enviar el enlace
link-copied = Enlace copiado.
code-over = El código ya venció. Haga uno nuevo.
held-face = { $count ->
    [one] 1 cosa se envía cuando usted desbloquee
   *[other] { $count } cosas se envían cuando usted desbloquee
  }
sign-out = Salir
mail = Correo
mail-address = Dirección de correo
mail-me = Avisarme también por correo
other-phone = Otro teléfono
this-one = (este)
sign-out-unsent = { $count ->
    [one] 1 cosa no está enviada. Queda en este teléfono y se envía cuando vuelva a entrar.
   *[other] { $count } cosas no están enviadas. Quedan en este teléfono y se envían cuando vuelva a entrar.
  }
device-from = vino de { $shop };
device-wall = de pared

call-title = Cuando mi vehículo está arriba o de vuelta
call-both = Sonido y vibración
call-sound = Sonido
call-vibration = Vibración
call-none = Ninguno
