"""One island laid flat as well as its seams allow."""
