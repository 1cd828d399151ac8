"""What scripts call: review and improve, from files and from trimesh's meshes."""
