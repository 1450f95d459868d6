"""What it takes to have bedstraw run on a machine: its systemd units, and completion for the shell."""
