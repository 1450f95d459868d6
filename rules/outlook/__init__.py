"""The front door of the rules: inputs, the past, nights and the week ahead."""
