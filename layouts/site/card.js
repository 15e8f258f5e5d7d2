const now = showToday([...document.querySelectorAll(".state")]);
document.getElementById("build").hidden = now.dataset.build !== "yes";
keepCopies("../../");
