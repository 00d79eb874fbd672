mine = Lo mío
loading = Un momento …
try-again = Intentar de nuevo
part-not-here = Esta parte todavía no está en tu teléfono y no hay conexión con el servidor del taller.
no-such-page = No hay nada en esta dirección.
