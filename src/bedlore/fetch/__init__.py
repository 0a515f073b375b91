"""Weather over HTTP: forecast services, cached and with a clear word when they fail."""
