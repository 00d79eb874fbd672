setup-title = Configuración
