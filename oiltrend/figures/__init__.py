"""Figures, each as data first (``x_info``) and drawing second (``draw_x``), shared by all."""
