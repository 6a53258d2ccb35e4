"""Routes by who uses them; what each may have is said by the dependencies it names (`judging.web.access`)."""
