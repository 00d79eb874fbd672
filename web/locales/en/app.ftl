mine = Mine
loading = One moment …
try-again = Try again
part-not-here = This part is not on your phone yet, and the shop’s server is not reached.
no-such-page = There is nothing at this address.
