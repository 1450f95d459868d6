"""The half of bedstraw that touches the world: services, storage, chat and time."""
