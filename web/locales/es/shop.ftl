shop-title = El taller
