"""The one door for bytes from outside: bounded before they are taken in, refused in words."""
