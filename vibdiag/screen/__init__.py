"""The screens: one terminal application for desk, road and bay. They show and pass on; they compute nothing."""
