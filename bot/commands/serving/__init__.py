"""The commands that keep running and talk: chat, serve, serve-many, with the sensors and the watchdog beside them."""
