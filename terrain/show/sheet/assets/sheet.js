// The slider shows one of the pictures that are all on the page already.
const slider = document.getElementById("mist-top");
const show = () => {
  for (const look of document.querySelectorAll("[data-look]")) {
    look.hidden = look.dataset.look !== slider.value;
  }
  const stop = document.getElementById("mist-tops").options[slider.value];
  slider.setAttribute("aria-valuetext", stop.dataset.words);
};
if (slider) {
  document.getElementById("mist-control").hidden = false;
  slider.addEventListener("input", show);
  show();
}
