"""The program's frame: application, main window, menus, start page, status and notices."""
