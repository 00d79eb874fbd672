### Una foto, grande, y lo que está marcado en ella.

photo-of = { $number }: foto
no-photo = No existe esa foto
marked-by = { $count ->
    [one] Una marca de { $person }, { $at }.
   *[other] { $count } marcas de { $person }, { $at }.
  }
mark = Marcar
mark-title = { $number }: marcar la foto
mark-how = Dibuje en la imagen con un dedo. Tome un aro para mover lo que dibujó. La imagen misma queda como se tomó.
mark-kind = Dibujar
mark-arrow = Flecha
mark-circle = Círculo
mark-text = Palabras
mark-words = Qué se debe escribir
mark-middle = Poner una en medio
mark-remove = Quitar esta
mark-stop = Dejarla como estaba
did-mark = Marcas guardadas.
with-marks = Con marcas
without-marks = Sin marcas
handle-arrow-1 = Cola de la flecha
handle-arrow-2 = Punta de la flecha
handle-circle-1 = Una esquina del círculo
handle-circle-2 = Otra esquina del círculo
handle-text-1 = Lugar de las palabras
