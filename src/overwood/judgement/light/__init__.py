"""Light on the floor from the crowns: of a cruised stand, of what is let in, fitted to readings and to photographs."""
