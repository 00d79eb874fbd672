shop-title = The shop
