### A photo, large, and what is marked on it.

photo-of = { $number }: photo
no-photo = No such photo
marked-by = { $count ->
    [one] One mark by { $person }, { $at }.
   *[other] { $count } marks by { $person }, { $at }.
  }
mark = Mark
mark-title = { $number }: mark the photo
mark-how = Draw on the picture with a finger. Take hold of a ring to move what you drew. The picture itself stays as it was taken.
mark-kind = Draw
mark-arrow = Arrow
mark-circle = Circle
mark-text = Words
mark-words = What is to be written
mark-middle = Put one in the middle
mark-remove = Remove this one
mark-stop = Leave it as it was
did-mark = Marks kept.
with-marks = With marks
without-marks = Without marks
handle-arrow-1 = Tail of the arrow
handle-arrow-2 = Head of the arrow
handle-circle-1 = One corner of the circle
handle-circle-2 = Other corner of the circle
handle-text-1 = Place of the words
