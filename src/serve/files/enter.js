// The button of a one-time link: spends it, keeps no trace of it in the address, and goes on to the pages.
// In the reader's language, as the Bench is; the server's own words are English.
const texts = {
  en: { lets: 'This link lets you in once.', enter: 'Come in', over: '', unreached: 'The server cannot be reached. Is there a connection?' },
  es: { lets: 'Este enlace le deja entrar una vez.', enter: 'Entrar', over: 'Este enlace ya se usó o ha caducado. Pida otro.', unreached: 'No se puede llegar al servidor. ¿Hay conexión?' },
  fr: { lets: 'Ce lien vous laisse entrer une fois.', enter: 'Entrer', over: 'Ce lien a déjà servi ou a expiré. Demandez-en un autre.', unreached: 'Le serveur ne répond pas. Y a-t-il une connexion\u00a0?' },
};
const language = navigator.languages.map((l) => l.split('-')[0]).find((l) => l in texts) ?? 'en';
const text = texts[language];
const button = document.getElementById('enter');
const said = document.getElementById('said');
const link = decodeURIComponent(location.pathname.split('/').pop());
document.documentElement.lang = language;
document.getElementById('lets').textContent = text.lets;
button.textContent = text.enter;
history.replaceState(null, '', '/enter/-');

button.addEventListener('click', async () => {
  button.disabled = true;
  said.textContent = '';
  try {
    const answer = await fetch('/api/v1/session', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ link }),
    });
    const told = await answer.json();
    if (answer.ok) {
      location.replace('/');
      return;
    }
    said.textContent = answer.status === 401 && text.over !== '' ? text.over : told.detail;
  } catch {
    said.textContent = text.unreached;
  }
  button.disabled = false;
});
